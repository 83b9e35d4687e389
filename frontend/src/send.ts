/** Sends one submitted form and tells what became of it. */
import { first, meta, parsed } from "./page";

/** The server confirmed the entry, refused it, or was away. */
export type Answer =
  | { kind: "kept" | "refused"; page: Document; url: string; says: string }
  | { kind: "away" };

/** How long one sending may take before the server counts as away. */
export const PATIENCE_MS = 30_000;

const AWAY = new Set([408, 429, 502, 503, 504]);
const LONGEST = 240;

/** Send a form's fields; the page's own token takes the place of one that may have aged. */
export async function send(
  uid: string, action: string, fields: Iterable<[string, FormDataEntryValue]>,
): Promise<Answer> {
  try {
    const response = await fetch(action, {
      method: "POST",
      body: bodyOf(fields),
      headers: { "X-CSRF": meta("csrf"), "Accept": "text/html" },
      signal: AbortSignal.timeout(PATIENCE_MS),
    });
    if (AWAY.has(response.status)) return { kind: "away" };
    return judged(uid, response, parsed(await response.text()));
  } catch {
    return { kind: "away" };
  }
}

function bodyOf(fields: Iterable<[string, FormDataEntryValue]>): FormData | URLSearchParams {
  const texts = new URLSearchParams();
  const all = new FormData();
  let files = false;
  for (const [name, value] of fields) {
    const fresh = name === "csrf" ? meta("csrf") || value : value;
    all.append(name, fresh);
    if (typeof fresh === "string") texts.append(name, fresh);
    else files = true;
  }
  return files ? all : texts;
}

/** Only the server's word for this very uid counts: a page to log in at is a page too. */
function judged(uid: string, response: Response, page: Document): Answer {
  const kept = response.ok && (response.headers.get("X-Kept") === uid || keptBy(page).has(uid));
  return { kind: kept ? "kept" : "refused", page, url: response.url, says: said(page, response) };
}

/** Give the uids a page confirms. */
export function keptBy(page: Document): Set<string> {
  const metas = page.querySelectorAll<HTMLMetaElement>('meta[name="kept"]');
  return new Set([...metas].flatMap((found) => found.content.split(/\s+/)).filter(Boolean));
}

function said(page: Document, response: Response): string {
  const place = first(page, '[role="alert"]', "h1");
  const text = (place?.textContent ?? "").replace(/\s+/g, " ").trim();
  return (text || `The server answered ${response.status} ${response.statusText}.`)
    .slice(0, LONGEST);
}
