/**
 * Sends forms with `data-keep`, and keeps them where the network or the server is away.
 *
 * Each is written into the outbox before it is sent: nothing is lost with the page. They go in
 * order, one tab at a time, again and again until the server confirms the form's `uid`. What it
 * refuses is shown and stays until it is corrected or thrown away.
 */
import { alone, type GoOn } from "./alone";
import { tell } from "./bar";
import { typed } from "./fields";
import { forget, forgetEntry, keepValues } from "./keep";
import { first, show } from "./page";
import * as queue from "./queue";
import type { Entry } from "./queue";
import { keptBy, send, type Answer, type Settled } from "./send";
import { hidden, renew } from "./uid";

const FIRST_WAIT_MS = 1_000;
const LONGEST_WAIT_MS = 30_000;
const AWAY = "Offline: the server does not answer. What you type is kept.";

let wait = FIRST_WAIT_MS;
let timer: number | undefined;
let wentAwayAt = -Infinity;
let sent: Entry[] = [];
let words = "";

/** Take over the submission of kept forms, and send what waits from before. */
export function startOutbox(): void {
  document.addEventListener("submit", take);
  document.addEventListener("input", ({ target }) => { // chosen, or put back as it was typed
    if (target instanceof HTMLSelectElement && target.matches("select[data-advance]")) {
      tellChosen(target);
    }
  });
  addEventListener("online", sendNow);
  addEventListener("pageshow", (event) => { if (event.persisted) sendNow(); });
  addEventListener("storage", say);
  document.addEventListener("visibilitychange", () => {
    if (document.visibilityState === "visible") sendNow();
  });
  sendNow();
}

/** Heed what a page that is now shown confirms. */
export function heed(page: Document): void {
  for (const uid of keptBy(page)) {
    if (queue.entry(uid)) queue.confirm(uid, location.href);
    forgetEntry(uid);
  }
  say();
}

/** Say that something else could not be had, until the next thing is said. */
export function sayAway(): void {
  words = AWAY;
  say();
}

/** The server answers: it is away no longer. */
export function sayThere(): void {
  const wasAway = wentAwayAt > -Infinity || words === AWAY;
  if (words === AWAY) words = "";
  if (wasAway) sendNow();
}

function say(): void {
  const away = wentAwayAt > -Infinity;
  const waiting = queue.waiting();
  const told = words === AWAY && away && waiting.length > 0 ? "" : words; // not twice
  tell({ waiting, refused: queue.refused(), sent, away, words: told },
    { correct, again, discard });
}

function sendNow(): void {
  wait = FIRST_WAIT_MS;
  clearTimeout(timer);
  if (queue.waiting().length > 0) void sendAll();
  else say();
}

/** Send all that waits, in order; stop where the server is away. Gives what became of `mine`. */
async function sendAll(mine?: Entry): Promise<Answer | undefined> {
  const asked = performance.now();
  let answer: Answer | undefined;
  await alone(async (goOn) => {
    if (wentAwayAt > asked) return; // found out while this call stood in line
    answer = await sendInOrder(goOn, mine);
  });
  if (queue.waiting().length > 0) sendLater();
  else wentAwayAt = -Infinity;
  say();
  return answer;
}

async function sendInOrder(goOn: GoOn, mine?: Entry): Promise<Answer | undefined> {
  let answerToMine: Answer | undefined;
  for (const { uid } of queue.waiting()) {
    const entry = queue.entry(uid); // once more: another tab may have changed it meanwhile
    if (entry === null || entry.refused !== undefined) continue;
    goOn();
    const answer = await send(uid, entry.action, entry.fields);
    if (answer.kind === "away") {
      wentAwayAt = performance.now();
      return answerToMine;
    }
    wentAwayAt = -Infinity;
    if (words === AWAY) words = "";
    if (uid === mine?.uid) answerToMine = answer;
    settle(entry, answer, uid === mine?.uid);
  }
  return answerToMine;
}

function settle(entry: Entry, answer: Settled, mine: boolean): void {
  if (answer.kind === "kept") {
    queue.confirm(entry.uid, answer.url);
    forgetEntry(entry.uid);
    if (!mine) sent = [...sent, entry];
  } else {
    queue.put({ ...entry, refused: answer.says });
  }
  say();
}

function sendLater(): void {
  clearTimeout(timer);
  timer = setTimeout(() => void sendAll(), wait);
  wait = Math.min(2 * wait, LONGEST_WAIT_MS);
}

function take(event: SubmitEvent): void {
  const form = event.target;
  if (event.defaultPrevented || !(form instanceof HTMLFormElement)) return;
  const entry = entryOf(form, event.submitter);
  if (entry === null) return;
  event.preventDefault();
  if (form.getAttribute("aria-busy") === "true") return;
  form.setAttribute("aria-busy", "true");
  words = "";
  void submit(form, entry, filesOf(form)).finally(() => form.removeAttribute("aria-busy"));
}

/** Give the form as an entry; null where it is no kept form that is to be stored here. */
function entryOf(form: HTMLFormElement, by: HTMLElement | null): Entry | null {
  const key = form.dataset["keep"];
  const uid = hidden(form, "uid");
  // Not form.method and form.action: a field of that name would hide them.
  const isPost = form.getAttribute("method")?.toLowerCase() === "post";
  const url = new URL(form.getAttribute("action") || location.href, location.href);
  const goesAside = by?.hasAttribute("formaction") ?? false; // a look at it, not its storing
  if (!key || !uid || !isPost || goesAside || url.origin !== location.origin) return null;
  const fields = [...new FormData(form, by)].filter(
    (pair): pair is [string, string] => typeof pair[1] === "string");
  return {
    uid, key, fields, order: 0, what: form.dataset["keepWhat"] ?? "", action: url.href,
    page: location.href, seen: form.dataset["keepSeen"] ?? "", values: typed(form),
  };
}

function filesOf(form: HTMLFormElement): [string, File][] {
  return [...new FormData(form)].filter(
    (pair): pair is [string, File] => pair[1] instanceof File && pair[1].name !== "");
}

async function submit(
  form: HTMLFormElement, entry: Entry, files: [string, File][],
): Promise<void> {
  if (files.length > 0 || !queue.put(entry)) {
    await submitUnkept(entry, files);
    return;
  }
  forget(entry.key); // from here on the outbox has it
  const answer = await sendAll(entry) ?? outcomeElsewhere(entry);
  if (answer === "waits") makeRoom(form, entry);
  else if (answer === "gone") location.assign(queue.sentTo(entry.uid) ?? entry.page);
  else await answered(form, entry, answer);
}

/** What became of an entry that this tab did not send itself. */
function outcomeElsewhere(entry: Entry): Answer | "waits" | "gone" {
  const now = queue.entry(entry.uid);
  if (now === null) return "gone";
  if (now.refused === undefined) return "waits";
  return { kind: "refused", page: new Document(), url: entry.page, says: now.refused };
}

/** A file can't wait here, and some browsers keep nothing: such a form stays as it is. */
async function submitUnkept(entry: Entry, files: [string, File][]): Promise<void> {
  const answer = await send(entry.uid, entry.action, [...entry.fields, ...files]);
  if (answer.kind === "away") {
    words = "Offline: this can't wait here. Stay on this page and send it again.";
    say();
  } else if (answer.kind === "kept") {
    forgetEntry(entry.uid);
    await show(answer.page, answer.url);
  } else {
    await shown(answer, entry);
  }
}

/** While offline the next thing can be typed: an added entry leaves its form empty. */
function makeRoom(form: HTMLFormElement, entry: Entry): void {
  if (!form.isConnected) return;
  renew(form);
  if (queue.versionOf(entry) === "") empty(form);
  say();
}

/** Empty a form; one that walks down a list (`select[data-advance]`) goes on to its next. */
function empty(form: HTMLFormElement): void {
  const walks = [...form.querySelectorAll<HTMLSelectElement>("select[data-advance]")]
    .map((select) => [select, nextOf(select)] as const);
  form.reset();
  form.querySelector(":scope > .kept-note")?.remove();
  for (const [select, next] of walks) {
    if (next) next.selected = true;
    tellChosen(select);
  }
}

/** The next of a list by `data-next`, past what the page knows as read (`data-before`). */
function nextOf(select: HTMLSelectElement): HTMLOptionElement | undefined {
  const after = (option: HTMLOptionElement | undefined): HTMLOptionElement | undefined =>
    [...select.options].find((one) => one.value === option?.dataset["next"]);
  let next = after(select.selectedOptions[0]);
  while (next?.dataset["before"]) next = after(next);
  return next ?? select.selectedOptions[0];
}

/** Say of the entry now chosen what the page would: each `data-told="x"` has its `data-x`. */
function tellChosen(select: HTMLSelectElement): void {
  const chosen = select.selectedOptions[0]?.dataset ?? {};
  if (select.form && chosen["keep"]) select.form.dataset["keep"] = chosen["keep"];
  const part = select.closest("section") ?? select.form;
  for (const place of part?.querySelectorAll<HTMLElement>("[data-told]") ?? []) {
    const words = chosen[place.dataset["told"]!];
    if (words !== undefined) place.textContent = words;
  }
}

async function answered(form: HTMLFormElement, entry: Entry, answer: Answer): Promise<void> {
  if (answer.kind === "kept") {
    await show(answer.page, answer.url);
  } else if (answer.kind === "refused") {
    queue.drop(entry.uid);
    keepValues(entry.key, entry.uid, entry.seen, entry.values);
    if (form.isConnected) await shown(answer, entry);
    say();
  }
}

/** Show the server's page with the form to correct; where it has none, only what it says. */
async function shown(answer: Settled, entry: Entry): Promise<void> {
  const form = `form[data-keep="${CSS.escape(entry.key)}"]`;
  if (answer.page.querySelector(form)) {
    await show(answer.page);
    const place = first(document, `${form} [aria-invalid="true"]`, 'main [role="alert"]', form);
    if (place && place.tabIndex < 0) place.tabIndex = -1; // else it can't have the focus
    place?.focus();
  } else {
    words = `Not stored. ${answer.says}`;
    say();
  }
}

function correct(entry: Entry): void {
  keepValues(entry.key, entry.uid, entry.seen, entry.values);
  queue.drop(entry.uid);
  if (location.href === entry.page) location.reload();
  else location.assign(entry.page);
}

function again(entry: Entry): void {
  const { refused: _said, ...waits } = entry;
  queue.put(waits);
  sendNow();
}

function discard(entry: Entry): void {
  queue.drop(entry.uid);
  say();
}
