/**
 * Keys to press beside the paddle. `<div data-keypad data-for="id id ...">` holds buttons with
 * `data-key`: any text to type, "back", "clear" or "next". They type into the one of those inputs
 * that was touched last, at its caret. A fraction after a whole number gets the blank between.
 * Keyboards go past them: no key is a tab stop, and the caret never leaves its input.
 */

const taken = new WeakSet<Element>();
const touched = new WeakMap<HTMLInputElement, number>(); // the later, the higher
let touches = 0;

/** Make the keypads below `root` ready; they are hidden where no script runs. */
export function takeKeypads(root: ParentNode): void {
  for (const pad of root.querySelectorAll<HTMLElement>("[data-keypad]")) {
    if (taken.has(pad)) continue;
    taken.add(pad);
    pad.hidden = false;
    for (const key of pad.querySelectorAll("button")) key.tabIndex = -1;
    for (const input of inputsOf(pad)) if (document.activeElement === input) replaceable(input);
    if (matchMedia("(pointer: coarse)").matches) {
      for (const input of inputsOf(pad)) input.inputMode = "none"; // else two keypads overlap
    }
  }
}

/** Listen for keys on every page. */
export function startKeypads(): void {
  document.addEventListener("focusin", ({ target }) => {
    if (!(target instanceof HTMLInputElement)) return;
    touched.set(target, ++touches);
    replaceable(target);
  });
  document.addEventListener("pointerdown", (event) => {
    if (keyOf(event)) event.preventDefault(); // the focus stays where one types
  });
  document.addEventListener("mousedown", (event) => {
    if (keyOf(event)) event.preventDefault();
  });
  document.addEventListener("click", (event) => {
    const key = keyOf(event);
    const pad = key?.closest<HTMLElement>("[data-keypad]");
    if (key && pad) press(key.dataset["key"] ?? "", inputsOf(pad));
  });
}

/** What the server gave to be corrected is replaced by the first key, not put before. */
function replaceable(input: HTMLInputElement): void {
  if (input.autofocus && input.value === input.defaultValue) input.select();
}

function keyOf(event: Event): HTMLElement | null {
  return event.target instanceof Element
    ? event.target.closest<HTMLElement>("[data-keypad] button[data-key]") : null;
}

function inputsOf(pad: HTMLElement): HTMLInputElement[] {
  const ids = (pad.dataset["for"] ?? "").split(/\s+/).filter(Boolean);
  return ids.map((id) => document.getElementById(id))
    .filter((found): found is HTMLInputElement => found instanceof HTMLInputElement);
}

function press(key: string, inputs: HTMLInputElement[]): void {
  const when = (input: HTMLInputElement): number => touched.get(input) ?? 0;
  const [input] = [...inputs].sort((one, other) => when(other) - when(one));
  if (!input) return;
  if (document.activeElement !== input) input.focus();
  if (key === "next") next(input, inputs);
  else edit(input, key);
}

function edit(input: HTMLInputElement, key: string): void {
  const end = input.value.length;
  const [from, to] = [input.selectionStart ?? end, input.selectionEnd ?? end];
  const start = key === "back" && from === to ? Math.max(0, from - 1) : from;
  const text = key === "back" ? "" : spaced(input.value.slice(0, from), key);
  if (key === "clear") input.value = "";
  else input.setRangeText(text, start, to, "end");
  input.dispatchEvent(new Event("input", { bubbles: true }));
}

/** "3" and "1/4" make "3 1/4"; "1" and "/" stay "1/". */
function spaced(before: string, key: string): string {
  return /^\d+\/\d+$/.test(key) && /\d$/.test(before) ? ` ${key}` : key;
}

function next(input: HTMLInputElement, inputs: HTMLInputElement[]): void {
  input.dispatchEvent(new Event("change", { bubbles: true }));
  const after = inputs[inputs.indexOf(input) + 1];
  const submit = input.form?.querySelector<HTMLElement>('button:not([type="button"])');
  (after ?? submit)?.focus();
}
