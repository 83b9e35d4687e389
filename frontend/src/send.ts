/** Sends one submitted form and tells what became of it. */
import { first, meta, parsed } from "./page";

/** The server confirmed the entry, or refused it. */
export interface Settled {
  kind: "kept" | "refused";
  page: Document;
  url: string;
  says: string;
}

/** What became of a form that was sent. */
export type Answer = Settled | { kind: "away" };

/** How long one sending may take before the server counts as away. */
const PATIENCE_MS = 20_000;

const AWAY = new Set([408, 429, 502, 503, 504]);
const LONGEST = 240;

/**
 * Send a form's fields; the page's own token takes the place of one that may have aged.
 *
 * A page that was led to without a word for the uid may have lost it to another page of this
 * browser: it is asked once more, which stores nothing twice.
 */
export async function send(
  uid: string, action: string, fields: [string, FormDataEntryValue][],
): Promise<Answer> {
  try {
    const response = await post(action, fields);
    const answer = await judged(uid, response);
    const mayBeLost = answer.kind === "refused" && response.ok && response.redirected;
    return mayBeLost ? await judged(uid, await post(action, fields)) : answer;
  } catch {
    return { kind: "away" };
  }
}

function post(action: string, fields: [string, FormDataEntryValue][]): Promise<Response> {
  return fetch(action, {
    method: "POST",
    body: bodyOf(fields),
    headers: { "X-CSRF": meta("csrf"), "Accept": "text/html" },
    signal: AbortSignal.timeout(PATIENCE_MS),
  });
}

function bodyOf(fields: [string, FormDataEntryValue][]): FormData | URLSearchParams {
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
async function judged(uid: string, response: Response): Promise<Answer> {
  if (AWAY.has(response.status)) return { kind: "away" };
  const page = parsed(await response.text());
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
