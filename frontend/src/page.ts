/** The page itself: what it says of itself, and how another one takes its place. */

/** Sent to `document` once a page has been put in place of another. */
export const SHOWN = "bench:shown";

let shownAt = place();

function place(): string {
  return location.pathname + location.search;
}

/** Give the content of `<meta name=...>`, or nothing. */
export function meta(name: string, of: Document = document): string {
  return of.querySelector<HTMLMetaElement>(`meta[name="${name}"]`)?.content ?? "";
}

/** Give the first element for the first of the selectors that has one. */
export function first(root: ParentNode, ...selectors: string[]): HTMLElement | null {
  for (const selector of selectors) {
    const found = root.querySelector<HTMLElement>(selector);
    if (found) return found;
  }
  return null;
}

/** Read an answer's text as a page; it is only looked at, nothing in it runs. */
export function parsed(html: string): Document {
  return new DOMParser().parseFromString(html, "text/html");
}

/** Put `next` in place of this page; with `url`, as if one had gone there. */
export async function show(next: Document, url?: string): Promise<void> {
  const stale = await takeStyles(next);
  if (url !== undefined) {
    const there = new URL(url);
    const same = there.pathname + there.search === place();
    history[same ? "replaceState" : "pushState"](null, "", there);
    shownAt = place();
  }
  takeHead(next);
  for (const element of next.querySelectorAll("noscript")) element.remove(); // no script there
  document.body.replaceWith(document.adoptNode(next.body));
  for (const sheet of stale) sheet.remove();
  document.dispatchEvent(new Event(SHOWN));
  window.scrollTo(0, 0);
  begin();
}

/** Go to where the page wants to be typed in; a browser does so only for pages it loads itself. */
function begin(): void {
  const input = document.querySelector<HTMLElement>("main [autofocus]");
  if (input === null) return;
  input.focus({ preventScroll: true });
  const form = input.closest("form");
  if (form && form.getBoundingClientRect().bottom > window.innerHeight) {
    (form.closest("section") ?? form).scrollIntoView();
  }
}

/** Load the style sheets that only the next page has; give those that only this one has. */
async function takeStyles(next: Document): Promise<HTMLLinkElement[]> {
  const sheets = (page: Document): HTMLLinkElement[] =>
    [...page.head.querySelectorAll<HTMLLinkElement>('link[rel="stylesheet"]')];
  // Before it is shown, a page that was only read has no addresses but those it was written with.
  const address = (sheet: HTMLLinkElement): string | null => sheet.getAttribute("href");
  const [here, there] = [sheets(document), sheets(next)];
  const missing = there.filter((one) => !here.some((other) => address(one) === address(other)));
  await Promise.all(missing.map((sheet) => new Promise((done) => {
    for (const end of ["load", "error"]) sheet.addEventListener(end, done, { once: true });
    document.head.append(sheet);
  })));
  return here.filter((one) => !there.some((other) => address(one) === address(other)));
}

function takeHead(next: Document): void {
  document.title = next.title;
  for (const { name, value } of next.documentElement.attributes) {
    document.documentElement.setAttribute(name, value);
  }
  for (const old of document.head.querySelectorAll("meta[name]")) old.remove();
  document.head.append(...next.head.querySelectorAll("meta[name]"));
}

/** After `show`, going back has to ask the server: the browser has only the address. */
export function startPages(): void {
  addEventListener("popstate", () => {
    if (place() !== shownAt) location.reload();
  });
}

/** Make an element with text in it. */
export function made<K extends keyof HTMLElementTagNameMap>(
  tag: K, text = "", attributes: Record<string, string> = {},
): HTMLElementTagNameMap[K] {
  const element = document.createElement(tag);
  element.textContent = text;
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, value);
  return element;
}

/** Make a button that does something here and sends nothing. */
export function button(text: string, press: () => void): HTMLButtonElement {
  const element = made("button", text, { type: "button" });
  element.addEventListener("click", press);
  return element;
}
