// Bundles bench.js and solid.js, and gathers the licences of what went into them.
import { createHash } from "node:crypto";
import { mkdir, readFile, readdir, rename, rm, writeFile } from "node:fs/promises";
import { dirname, join } from "node:path";
import { fileURLToPath } from "node:url";
import { build } from "esbuild";

const here = dirname(fileURLToPath(import.meta.url));
const built = join(here, "..", "src", "springloom", "web", "static", "built");
const common = {
  absWorkingDir: here, bundle: true, minify: true, sourcemap: false, charset: "utf8",
  target: "es2022", legalComments: "none", metafile: true, logLevel: "warning",
  banner: { js: "/* Licences of what is bundled here: LICENSES.txt beside this file. */" },
};

// Built aside and moved over, so that a page served meanwhile never gets half a file.
const aside = `${built}.${process.pid}`;
await mkdir(aside, { recursive: true });
try {
  const solid = await build({ ...common, entryPoints: ["src/solid.ts"], format: "esm",
                              outfile: join(aside, "solid.js") });
  // bench.js asks for solid.js by its mark: no browser keeps an old one for it.
  const mark = createHash("sha256").update(await readFile(join(aside, "solid.js"))).digest("hex");
  const bench = await build({ ...common, entryPoints: ["src/bench.ts"], format: "iife",
                              outfile: join(aside, "bench.js"),
                              define: { SOLID_MARK: JSON.stringify(mark.slice(0, 12)) } });
  const inputs = [bench, solid].flatMap((result) => Object.keys(result.metafile.inputs));
  await writeFile(join(aside, "LICENSES.txt"), await licences(packagesOf(inputs)));
  await mkdir(built, { recursive: true });
  for (const name of await readdir(aside)) {
    await rename(join(aside, name), join(built, name));
  }
} finally {
  await rm(aside, { recursive: true, force: true });
}

/** Name the packages that files under node_modules belong to. */
function packagesOf(files) {
  const names = files.map((file) => /(?:^|\/)node_modules\/((?:@[^/]+\/)?[^/]+)\//.exec(file)?.[1]);
  return [...new Set(names.filter((name) => name !== undefined))].sort();
}

/** Give each package's name, version and licence text. */
async function licences(names) {
  const parts = await Promise.all(names.map(async (name) => {
    const folder = join(here, "node_modules", name);
    const { version, license } = JSON.parse(await readFile(join(folder, "package.json"), "utf8"));
    const file = (await readdir(folder)).find((entry) => /^licen[cs]e/i.test(entry));
    if (file === undefined) throw new Error(`${name} comes without a licence file`);
    const text = (await readFile(join(folder, file), "utf8")).trim();
    return `${name} ${version} (${license})\n\n${text}\n`;
  }));
  return parts.join(`\n${"-".repeat(72)}\n\n`);
}
