/** What every page of the bench runs; each part does nothing where a page hasn't what it is for. */
import htmx from "htmx.org";
import { startCommas } from "./comma";
import { startDragging, takeHandles } from "./drag";
import { putBack, startKeeping } from "./keep";
import { startKeypads, takeKeypads } from "./keypad";
import { heed, sayAway, sayThere, startOutbox } from "./outbox";
import { meta, SHOWN, startPages } from "./page";

declare const SOLID_MARK: string; // of the build that solid.js belongs to; put in by build.mjs

Object.assign(htmx.config, {
  allowEval: false,
  allowScriptTags: false,
  includeIndicatorStyles: false,
  selfRequestsOnly: true,
  historyCacheSize: 0,
  responseHandling: [ // a part of a page may say what is wrong with what was typed
    { code: "204", swap: false },
    { code: "[23]..", swap: true },
    { code: "409|422", swap: true, error: true },
    { code: "...", swap: false, error: true },
  ],
});

function take(root: ParentNode): void {
  putBack(root);
  takeKeypads(root);
  takeHandles(root);
  void takeSolids(root);
}

async function takeSolids(root: ParentNode): Promise<void> {
  if (root.querySelector("canvas[data-solid]") === null) return;
  const address = beside(`solid.js?${SOLID_MARK}`);
  const { takeCanvases } = await import(address) as typeof import("./solid");
  takeCanvases(root);
}

/** Give the address of another built file. */
function beside(file: string): string {
  const mine = document.querySelector<HTMLScriptElement>('script[src*="bench.js"]')!;
  return new URL(file, mine.src).href;
}

document.addEventListener("htmx:configRequest", (event) => {
  (event as CustomEvent<{ headers: Record<string, string> }>).detail.headers["X-CSRF"]
    = meta("csrf");
});
document.addEventListener("htmx:sendError", sayAway);
document.addEventListener("htmx:beforeOnLoad", sayThere);
document.addEventListener("htmx:load", (event) => {
  if (event.target instanceof Element && event.target !== document.body) take(event.target);
});
document.addEventListener(SHOWN, () => {
  heed(document);
  htmx.process(document.body);
  take(document.body);
});

startPages();
startKeeping();
startKeypads();
startCommas();
startDragging();
heed(document);
// What is put back into a form may have its page change: not before htmx knows the page.
document.addEventListener("DOMContentLoaded", () => take(document.body));
startOutbox();
