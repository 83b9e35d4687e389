"""Set Springloom up in an environment of its own, then run it, its tests or its checks.

Needs nothing but Python 3.11 or newer and, on Debian and its kin, apt::

    python3 dev.py demo [args]    run the main job on the demo paddle
    python3 dev.py serve [args]   serve the bench; args go to springloom serve
    python3 dev.py test [args]    run all tests; args go to pytest
    python3 dev.py lint           run ruff, mypy and the TypeScript compiler
    python3 dev.py bench [args]   run the benchmarks
    python3 dev.py refs [--check] make the generated parts of docs/ and README.md anew
    python3 dev.py lock [args]    resolve requirements/*.lock anew; args go to uv (--upgrade)

The environment is the folder .venv beside this file, and the scripts of the web pages are built
in frontend/; delete .venv and frontend/node_modules at any time. Packages come from PyPI and npm,
each checked against the hash in its lock file; apt is asked only for what is missing.
"""
# No `from __future__ import annotations` and no syntax younger than 3.6: an old Python has to
# get as far as the sentence that tells it so.

import argparse
import hashlib
import importlib.util
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

if sys.version_info < (3, 11):  # noqa: UP036 - the one line written for older Pythons
    sys.exit("Springloom needs Python 3.11 or newer; this is {}.{}.".format(*sys.version_info))

ROOT = Path(__file__).resolve().parent
VENV = ROOT / ".venv"
WINDOWS = os.name == "nt"
FRONTEND = ROOT / "frontend"
BUILT = ROOT / "src" / "springloom" / "web" / "static" / "built"
BUNDLES = ("bench.js", "solid.js", "LICENSES.txt")
TOOLS = {  # command: its Debian package
    "ccx": "calculix-ccx", "pdftotext": "poppler-utils", "chromium": "chromium",
    "initdb": "postgresql",
}
ASIDE = Path("/usr/lib/postgresql")  # where Debian keeps its programs, a folder each version
NODE = {"node": "nodejs", "npm": "npm"}
OLDEST_NODE = 18
STDERR = 2  # where a tool's own talk goes, so that a command's output stays its own
EVERY_CORE = ["--numprocesses", "auto", "--dist", "loadfile", "--no-loadscope-reorder"]
"""How all tests run: as many files at once as there are cores, the browser's long ones first."""
ELSEWHERE = ("conda-forge carries calculix, poppler and postgresql for Linux, macOS and Windows, "
             "and Chrome serves as chromium")

Which = Callable[[str], str | None]


class SetUpError(Exception):
    """A step without which nothing further can run."""


def say(text: str) -> None:
    """Print a line about the set-up, apart from what the command itself prints."""
    print(f"dev.py: {text}", file=sys.stderr, flush=True)


def main(argv: list[str] | None = None) -> int:
    """Run one command; its exit code is ours."""
    parser = argparse.ArgumentParser(
        prog="dev.py", description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("command", choices=COMMANDS)
    parser.add_argument("args", nargs=argparse.REMAINDER, help="passed on as they are")
    options = parser.parse_args(argv)
    try:
        return COMMANDS[options.command](options.args)
    except SetUpError as error:
        say(str(error))
        return 1
    except KeyboardInterrupt:
        return 130


def demo(args: list[str]) -> int:
    """Run the main job on the demo paddle, from the folder the user stands in."""
    set_up("run")
    build_frontend()
    return run([program("springloom"), "demo", *args])


def serve(args: list[str]) -> int:
    """Serve the bench, from the folder the user stands in."""
    set_up("run")
    build_frontend()
    return run([program("springloom"), "serve", *args])


def test(args: list[str]) -> int:
    """Run the tests, with the programs they compare against; all of them on every core."""
    install_tools()
    set_up("test")
    build_frontend()
    return run([program("python"), "-m", "pytest", *(args or EVERY_CORE)], cwd=ROOT)


def lint(args: list[str]) -> int:
    """Run ruff, mypy and the TypeScript compiler, all even if the first complains."""
    if args:
        raise SetUpError("lint takes no arguments")
    set_up("test")
    checks = (["ruff", "check"], ["mypy"])
    codes = [run([program("python"), "-m", *check], cwd=ROOT) for check in checks]
    npm = find_npm() if build_frontend() else None
    codes.append(run([npm, "run", "check", "--silent"], cwd=FRONTEND) if npm else 1)
    return int(any(codes))


def bench(args: list[str]) -> int:
    """Run the benchmarks."""
    set_up("test")
    return run([program("python"), "-m", "benchmarks", *args], cwd=ROOT)


def refs(args: list[str]) -> int:
    """Make the generated parts of the documentation anew, or only look whether they are stale."""
    set_up("run")
    return run([program("python"), str(ROOT / "docs" / "generate.py"), *args], cwd=ROOT)


def lock(args: list[str]) -> int:
    """Resolve the lock files; kept versions stay unless ``--upgrade`` is among ``args``."""
    if not Path(program("uv")).exists():
        set_up("test")
    # Run is resolved under the constraints of test, so that one environment serves both.
    test_lock, run_lock = (f"requirements/{name}.lock" for name in ("test", "run"))
    resolve([*args, "--extra", "batch", "--group", "test", "--output-file", test_lock])
    resolve([*args, "--constraints", test_lock, "--output-file", run_lock])
    return 0


def resolve(options: list[str]) -> None:
    """Run uv's resolver on pyproject.toml and on what is needed to build the package."""
    import tomllib  # noqa: PLC0415 - unknown to the older Pythons that must read this file

    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    command = [program("uv"), "pip", "compile", "--quiet", "--universal",
               "--python-version", "3.11", "--generate-hashes", "--only-binary", ":all:",
               "--no-emit-index-url", "--custom-compile-command", "python3 dev.py lock",
               *options, "pyproject.toml", "-"]
    build_needs = "\n".join(project["build-system"]["requires"])
    if run(command, cwd=ROOT, typed=build_needs):
        raise SetUpError("the lock files could not be resolved")


def set_up(name: str) -> None:
    """Bring ``.venv`` to the lock file ``name`` (run or test); quick when it is there already."""
    if not is_sound(VENV):
        create_environment()
    if is_installed(name, VENV):
        return
    lock_file = lock_path(name)
    say(f"installing {lock_file.name} into {VENV} (once; a minute or two)")
    stamp = VENV / "springloom.stamp"
    stamp.unlink(missing_ok=True)  # a broken-off installation must not look finished
    pip_install(["--require-hashes", "--only-binary", ":all:", "--requirement", str(lock_file)])
    pip_install(["--no-deps", "--no-build-isolation", "--editable", str(ROOT)])
    stamp.write_text(fingerprint(name), encoding="utf-8")


def is_sound(venv: Path) -> bool:
    """Whether ``venv`` is whole and of the running Python's version."""
    config = venv / "pyvenv.cfg"
    parts = (config, Path(program("python", venv)), Path(program("pip", venv)))
    if not all(part.exists() for part in parts):
        return False
    version = re.search(r"^version\w* *= *(\d+)\.(\d+)", config.read_text("utf-8"), re.MULTILINE)
    return version is not None and tuple(map(int, version.groups())) == sys.version_info[:2]


def is_installed(name: str, venv: Path) -> bool:
    """Whether the last finished installation holds all of ``name``; test holds all of run."""
    stamp = venv / "springloom.stamp"
    return stamp.is_file() and stamp.read_text("utf-8") in {fingerprint(name), fingerprint("test")}


def fingerprint(name: str) -> str:
    """Hash all that an installation depends on: lock, pyproject, Python and place."""
    python = "{}.{}".format(*sys.version_info)
    parts = (lock_path(name).read_bytes(), (ROOT / "pyproject.toml").read_bytes(),
             python.encode(), os.fsencode(ROOT))
    return digest(parts)


def digest(parts: Iterable[bytes]) -> str:
    """Hash parts so that a byte moved from one to the next shows."""
    return hashlib.sha256(b"\0".join(hashlib.sha256(part).digest() for part in parts)).hexdigest()


def build_frontend() -> bool:
    """Build the scripts of the web pages, or say why not: the pages work without them."""
    packages = [FRONTEND / name for name in ("package.json", "package-lock.json")]
    sources = [FRONTEND / name for name in ("build.mjs", "tsconfig.json")]
    sources += sorted(FRONTEND.glob("src/*.ts"))
    is_whole = all((BUILT / name).is_file() for name in BUNDLES)
    # No script of a package is run: what is used of them works as it comes.
    install = ["ci", "--ignore-scripts", "--no-audit", "--no-fund", "--loglevel=error"]
    done = npm_once("installed", packages, install) and npm_once(
        "built", packages + sources, ["run", "build", "--silent"], again=not is_whole)
    if not done:
        say("the web pages go without their scripts; building them needs npm and "
            f"Node.js {OLDEST_NODE} or newer")
    return done


def npm_once(name: str, files: list[Path], words: list[str], again: bool = False) -> bool:
    """Run npm, unless it has been since ``files`` changed; False where it can't or fails."""
    stamp = FRONTEND / "node_modules" / f"springloom-{name}.stamp"
    wanted = digest(file.read_bytes() for file in files)
    if not again and stamp.is_file() and stamp.read_text("utf-8") == wanted:
        return True
    npm = find_npm()
    if npm is None:
        return False
    say(f"npm {' '.join(words[:2])} in {FRONTEND} (once; some seconds)")
    if run([npm, *words], cwd=FRONTEND, stdout=STDERR):
        return False
    stamp.write_text(wanted, encoding="utf-8")
    return True


def find_npm(which: Which = shutil.which) -> str | None:
    """Find npm and a Node.js that is young enough; apt brings them where there are none."""
    missing = [package for command, package in NODE.items() if which(command) is None]
    if missing and not apt_install(missing):
        return None
    node = which("node")
    return which("npm") if node is not None and node_version(node) >= OLDEST_NODE else None


def node_version(node: str) -> int:
    """Ask a Node.js for its major version; 0 if it doesn't say."""
    answer = subprocess.run([node, "--version"], capture_output=True, text=True, check=False)
    version = re.match(r"v(\d+)\.", answer.stdout)
    return int(version.group(1)) if version else 0


def create_environment() -> None:
    """Make ``.venv`` anew with the pip that came with Python."""
    package = missing_venv_package(importlib.util.find_spec)
    if package and not apt_install([package]):
        raise SetUpError(f"this Python lacks venv and ensurepip; on Debian {package} brings them")
    say(f"making {VENV}")
    if run([sys.executable, "-m", "venv", "--clear", str(VENV)]):
        raise SetUpError(f"{VENV} could not be made")


def missing_venv_package(find: Callable[[str], object]) -> str | None:
    """Name the Debian package to install if this Python can't make environments, else None."""
    if find("venv") and find("ensurepip"):
        return None
    return f"python3.{sys.version_info.minor}-venv"


def find_tool(command: str) -> str | None:
    """Find a program on the path, or among PostgreSQL's."""
    aside = ASIDE.glob(f"*/bin/{command}")
    return shutil.which(command) or next(map(str, aside), None)


def install_tools(which: Which = find_tool) -> None:
    """Install the programs the tests run and compare against, or say how; then go on."""
    missing = missing_packages(which)
    if not missing or apt_install(missing):
        return
    # One package that apt doesn't know keeps it from the rest: each by itself.
    missing = [package for package in missing if not apt_install([package])]
    if missing:
        say(f"missing: {', '.join(missing)} (Debian's names); {ELSEWHERE}. "
            "Tests that need them will fail.")


def missing_packages(which: Which) -> list[str]:
    """List the Debian packages whose program is not there."""
    return [package for command, package in TOOLS.items() if which(command) is None]


def apt_install(packages: list[str]) -> bool:
    """Install Debian packages; False where apt, the rights or the packages are wanting."""
    apt = apt_command(shutil.which, getattr(os, "geteuid", lambda: -1)())
    if apt is None:
        return False
    say(f"apt-get install {' '.join(packages)}")
    run([*apt, "-qq", "update"])  # may fail over a source we don't need: the next step decides
    return run([*apt, "-qq", "install", "--yes", "--no-install-recommends", *packages]) == 0


def apt_command(which: Which, user_id: int) -> list[str] | None:
    """Give the words that start apt-get as root, or None if there is no way."""
    apt = ["env", "DEBIAN_FRONTEND=noninteractive", "apt-get"]
    if which("apt-get") is None:
        return None
    if user_id == 0:
        return apt
    return ["sudo", *apt] if which("sudo") else None


def pip_install(options: list[str]) -> None:
    """Install with the environment's own pip."""
    pip = [program("python"), "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    if run([*pip, *options]):
        raise SetUpError("pip failed; nothing was run")


def lock_path(name: str) -> Path:
    """Give the lock file of that name."""
    return ROOT / "requirements" / f"{name}.lock"


def program(name: str, venv: Path | None = None, windows: bool = WINDOWS) -> str:
    """Give the path of a program inside ``venv``, or else inside ``.venv``."""
    venv = venv or VENV
    return str(venv / "Scripts" / f"{name}.exe" if windows else venv / "bin" / name)


def run(
    command: list[str], cwd: Path | None = None, typed: str | None = None,
    stdout: int | None = None,
) -> int:
    """Run ``command`` to its end and return its exit code."""
    env = clean_environment(os.environ)
    return subprocess.run(
        command, cwd=cwd, env=env, input=typed, stdout=stdout, text=True, check=False
    ).returncode


def clean_environment(given: Mapping[str, str]) -> dict[str, str]:
    """Drop what would let other Python folders in; make every text UTF-8, on Windows too."""
    kept = {key: given[key] for key in given if key not in {"PYTHONHOME", "PYTHONPATH"}}
    return {**kept, "PYTHONUTF8": "1"}


COMMANDS: dict[str, Callable[[list[str]], int]] = {
    "demo": demo, "serve": serve, "test": test, "lint": lint, "bench": bench, "refs": refs,
    "lock": lock,
}

if __name__ == "__main__":
    sys.exit(main())
