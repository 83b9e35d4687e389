/**
 * Keeps what is being typed. A form with `data-keep="key"` is written to this browser at each
 * input and filled again when its page opens again, until the server confirms its `uid`
 * (`<meta name="kept">` or `X-Kept`). Where the server has rendered something newer meanwhile
 * (another `data-keep-seen`), the typing is offered beside the form instead.
 */
import { fill, isAsRendered, typed, unfill, type Values } from "./fields";
import { button, made } from "./page";
import { names, read, remove, write } from "./storage";
import { hidden } from "./uid";

interface Kept {
  uid: string;
  seen: string;
  at: number;
  values: Values;
}

function nameOf(key: string): string {
  return `keep.${key}`;
}

function seenBy(form: HTMLFormElement): string {
  return form.dataset["keepSeen"] ?? "";
}

/** Write what stands in the form, or forget it where nothing was typed. */
export function keep(form: HTMLFormElement): void {
  const key = form.dataset["keep"];
  if (!key) return;
  if (isAsRendered(form)) remove(nameOf(key));
  else keepValues(key, hidden(form, "uid"), seenBy(form), typed(form));
}

/** Write values as if they had just been typed into the form of that key. */
export function keepValues(key: string, uid: string, seen: string, values: Values): void {
  write(nameOf(key), { uid, seen, at: Date.now(), values } satisfies Kept);
}

/** Forget the typing of one form. */
export function forget(key: string): void {
  remove(nameOf(key));
}

/** Forget the typing that became the entry `uid`. */
export function forgetEntry(uid: string): void {
  for (const name of names("keep.")) {
    if (read<Kept>(name)?.uid === uid) remove(name);
  }
}

/** Fill the forms below `root` with what was typed into them before. */
export function putBack(root: ParentNode): void {
  for (const form of root.querySelectorAll<HTMLFormElement>("form[data-keep]")) {
    const kept = read<Kept>(nameOf(form.dataset["keep"]!));
    if (kept === null) continue;
    if (kept.seen !== seenBy(form)) offer(form, kept);
    else if (fill(form, kept.values)) sayBack(form, kept);
  }
}

function sayBack(form: HTMLFormElement, kept: Kept): void {
  const away = button("Take it away", () => {
    unfill(form);
    forget(form.dataset["keep"]!);
    note.remove();
  });
  const note = noteIn(form, `What was typed here ${when(kept)} is back in its fields.`, away);
}

function offer(form: HTMLFormElement, kept: Kept): void {
  const back = button("Put it in", () => {
    fill(form, kept.values);
    note.remove();
  });
  const away = button("Throw it away", () => {
    forget(form.dataset["keep"]!);
    note.remove();
  });
  const note = noteIn(form, "This has been changed since you last typed here. "
    + `What you typed ${when(kept)} is kept.`, back, away);
}

function noteIn(form: HTMLFormElement, text: string, ...buttons: HTMLElement[]): HTMLElement {
  form.querySelector(":scope > .kept-note")?.remove();
  const note = made("div", "", { class: "kept-note", role: "status" });
  note.append(made("p", text), ...buttons);
  form.prepend(note);
  return note;
}

function when(kept: Kept): string {
  const at = new Date(kept.at);
  const today = at.toDateString() === new Date().toDateString();
  const time = at.toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
  return today ? `at ${time}` : `on ${at.toISOString().slice(0, 10)} at ${time}`;
}

/** Keep every form of this page and of those that take its place. */
export function startKeeping(): void {
  const keepItsForm = (event: Event): void => {
    const form = (event.target as { form?: HTMLFormElement | null } | null)?.form;
    if (form instanceof HTMLFormElement) keep(form);
  };
  document.addEventListener("input", keepItsForm);
  document.addEventListener("change", keepItsForm);
  document.addEventListener("reset", ({ target }) => { // its fields change only after this
    if (target instanceof HTMLFormElement) setTimeout(() => keep(target));
  });
}
