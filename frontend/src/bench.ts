/** What every page of the bench runs; each part does nothing where a page hasn't what it is for. */
import htmx from "htmx.org";
import { startDragging, takeHandles } from "./drag";
import { putBack, startKeeping } from "./keep";
import { startKeypads, takeKeypads } from "./keypad";
import { heed, sayAway, startOutbox } from "./outbox";
import { meta, SHOWN, startPages } from "./page";

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
  const { takeCanvases } = await import(beside("solid.js")) as typeof import("./solid");
  takeCanvases(root);
}

/** Give the address of another built file, of the same build as this one. */
function beside(file: string): string {
  const mine = document.querySelector<HTMLScriptElement>('script[src*="bench.js"]')!.src;
  return mine.replace(/bench\.js(?=$|\?)/, file);
}

document.addEventListener("htmx:configRequest", (event) => {
  (event as CustomEvent<{ headers: Record<string, string> }>).detail.headers["X-CSRF"]
    = meta("csrf");
});
document.addEventListener("htmx:sendError", sayAway);
document.addEventListener("htmx:load", (event) => {
  if (event.target instanceof HTMLElement && event.target !== document.body) take(event.target);
});
document.addEventListener(SHOWN, () => {
  heed(document);
  htmx.process(document.body);
  take(document.body);
});

startPages();
startKeeping();
startKeypads();
startDragging();
heed(document);
take(document.body);
startOutbox();
