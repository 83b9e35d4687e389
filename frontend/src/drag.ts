/**
 * Handles that move a station in a drawing. A `[data-drag]` element of an inline SVG names its
 * input and says how far it moves:
 *
 *   data-drag   id of the input
 *   data-axis   x or y, the direction it moves in
 *   data-mm     millimetres of the value per unit of the drawing along that axis (negative where
 *               the value grows against it, as a height does)
 *   data-value  what it is drawn at, in the input's unit
 *   data-unit   the input's unit, mm (default) or in; none for a share
 *   data-min, data-max, data-step   in the input's unit; step 0.5 mm or 1/32 in by default
 *   data-label  its name; by default the input's label
 *
 * Pointer and arrow keys write the value into the input and fire `input`, once a frame at most.
 * The page may put a new drawing in place meanwhile: the movement goes on with its handle.
 */
import { MM, readLength, writeLength, type Unit } from "./quantity";

type Handle = SVGGraphicsElement;

interface Scale {
  unit: Unit;
  axis: "x" | "y";
  mm: number;
  step: number;
  min: number;
  max: number;
}

interface Movement {
  id: string;
  axis: string;
  pointer: number;
  from: number; // value where it began, in the input's unit
  grip: DOMPoint; // where it was gripped, in the drawing's units
}

const PAGE = 10; // steps of PageUp and PageDown
const bases = new WeakMap<Handle, string>();
let movement: Movement | null = null;
let focused: { id: string; axis: string } | null = null;
let pending: number | undefined;

/** Make the handles below `root` ready: sliders by name and value, and their focus kept. */
export function takeHandles(root: ParentNode): void {
  for (const handle of root.querySelectorAll<Handle>("svg [data-drag]")) {
    if (bases.has(handle)) continue;
    bases.set(handle, handle.getAttribute("transform") ?? "");
    handle.setAttribute("role", "slider");
    handle.setAttribute("tabindex", "0");
    const lies = scaleOf(handle).axis === "x";
    handle.setAttribute("aria-orientation", lies ? "horizontal" : "vertical");
    handle.setAttribute("aria-label", labelOf(handle));
    // Else a finger scrolls the page; touch-action alone is not heeded on parts of a drawing.
    handle.addEventListener("touchstart", (event) => event.preventDefault(), { passive: false });
    refresh(handle);
    if (hadFocus(handle)) handle.focus({ preventScroll: true });
  }
}

/** Whether the focus was on this handle's forerunner when the drawing was replaced. */
function hadFocus(handle: Handle): boolean {
  const lost = document.activeElement === document.body || document.activeElement === null;
  return lost && focused?.id === handle.dataset["drag"] && focused?.axis === handle.dataset["axis"];
}

/** Listen for pointers and keys on every page. */
export function startDragging(): void {
  document.addEventListener("pointerdown", begin);
  document.addEventListener("pointermove", move);
  document.addEventListener("pointerup", end);
  document.addEventListener("pointercancel", end);
  document.addEventListener("keydown", key);
  document.addEventListener("focusin", ({ target }) => {
    const handle = handleAt(target);
    focused = handle ? { id: handle.dataset["drag"]!, axis: handle.dataset["axis"]! } : null;
  });
  document.addEventListener("input", ({ target }) => {
    if (target instanceof HTMLInputElement && target.id) handlesOf(target.id).forEach(refresh);
  });
}

function handleAt(target: EventTarget | null): Handle | null {
  return target instanceof Element ? target.closest<Handle>("svg [data-drag]") : null;
}

function handlesOf(id: string): Handle[] {
  return [...document.querySelectorAll<Handle>(`svg [data-drag="${CSS.escape(id)}"]`)];
}

function inputOf(handle: Handle): HTMLInputElement | null {
  const found = document.getElementById(handle.dataset["drag"]!);
  return found instanceof HTMLInputElement && !found.disabled && !found.readOnly ? found : null;
}

function scaleOf(handle: Handle): Scale {
  const { unit, axis, mm, step, min, max } = handle.dataset;
  const its: Unit = unit === "in" ? "in" : "mm";
  const number = (text: string | undefined, fallback: number): number =>
    text === undefined || Number.isNaN(Number(text)) ? fallback : Number(text);
  return {
    unit: its, axis: axis === "x" ? "x" : "y", mm: number(mm, 1) || 1,
    step: number(step, its === "in" ? 1 / 32 : 0.5),
    min: number(min, -Infinity), max: number(max, Infinity),
  };
}

function labelOf(handle: Handle): string {
  return handle.dataset["label"]
    ?? (inputOf(handle)?.labels?.[0]?.textContent ?? handle.dataset["drag"]!).trim();
}

function drawnAt(handle: Handle): number {
  return Number(handle.dataset["value"]) || 0;
}

function valueOf(handle: Handle): number {
  return readLength(inputOf(handle)?.value ?? "", scaleOf(handle).unit) ?? drawnAt(handle);
}

/** Bring a handle's place and its words to the input's value. */
function refresh(handle: Handle): void {
  const { unit, axis, mm, step, min, max } = scaleOf(handle);
  const value = valueOf(handle);
  const way = (value - drawnAt(handle)) * MM[unit] / mm;
  const shift = way === 0 ? "" : `translate(${axis === "x" ? `${way} 0` : `0 ${way}`})`;
  const transform = [shift, bases.get(handle)].filter(Boolean).join(" ");
  if (transform) handle.setAttribute("transform", transform);
  else handle.removeAttribute("transform");
  handle.setAttribute("aria-valuenow", String(Number(value.toFixed(4))));
  if (Number.isFinite(min)) handle.setAttribute("aria-valuemin", String(min));
  if (Number.isFinite(max)) handle.setAttribute("aria-valuemax", String(max));
  const named = handle.dataset["unit"] === "none" ? "" : ` ${unit}`;
  handle.setAttribute("aria-valuetext", writeLength(value, unit, step) + named);
}

/** Give a pointer's place in the units the handle moves in. */
function placeOf(event: PointerEvent, handle: Handle): DOMPoint | null {
  const matrix = (handle.parentNode as Handle | null)?.getScreenCTM?.();
  const point = new DOMPoint(event.clientX, event.clientY);
  return matrix ? point.matrixTransform(matrix.inverse()) : null;
}

function begin(event: PointerEvent): void {
  const handle = handleAt(event.target);
  if (!handle || !event.isPrimary || event.button !== 0 || !inputOf(handle)) return;
  const grip = placeOf(event, handle);
  if (!grip) return;
  event.preventDefault();
  handle.focus({ preventScroll: true });
  // The root stays when the drawing is replaced under the finger; the handle would not.
  document.documentElement.setPointerCapture(event.pointerId);
  movement = {
    id: handle.dataset["drag"]!, axis: handle.dataset["axis"]!, pointer: event.pointerId,
    from: valueOf(handle), grip,
  };
}

function movedHandle(): Handle | undefined {
  return movement ? handlesOf(movement.id)
    .find((handle) => handle.dataset["axis"] === movement?.axis) : undefined;
}

function move(event: PointerEvent): void {
  const handle = movedHandle();
  if (!movement || event.pointerId !== movement.pointer || !handle) return;
  const place = placeOf(event, handle);
  if (!place) return;
  const { axis, mm, unit } = scaleOf(handle);
  put(handle, movement.from + (place[axis] - movement.grip[axis]) * mm / MM[unit]);
}

function end(event: PointerEvent): void {
  if (!movement || event.pointerId !== movement.pointer) return;
  const handle = movedHandle();
  movement = null;
  if (handle) tell(handle, "change");
}

function key(event: KeyboardEvent): void {
  const handle = handleAt(event.target);
  if (!handle || event.altKey || event.ctrlKey || event.metaKey || !inputOf(handle)) return;
  const { step, min, max } = scaleOf(handle);
  const value = valueOf(handle);
  const goals: Record<string, number> = {
    ArrowUp: value + step, ArrowRight: value + step,
    ArrowDown: value - step, ArrowLeft: value - step,
    PageUp: value + PAGE * step, PageDown: value - PAGE * step, Home: min, End: max,
  };
  const goal = goals[event.key];
  if (goal === undefined) return;
  event.preventDefault();
  if (!Number.isFinite(goal)) return;
  put(handle, goal);
  tell(handle, "change");
}

/** Write a value within its bounds; the input hears of it once a frame. */
function put(handle: Handle, value: number): void {
  const { unit, step, min, max } = scaleOf(handle);
  const input = inputOf(handle);
  const text = writeLength(Math.min(max, Math.max(min, value)), unit, step);
  if (!input || input.value === text) return;
  input.value = text;
  refresh(handle);
  if (pending === undefined) {
    pending = requestAnimationFrame(() => tell(handle, "input"));
  }
}

/** Fire an event of the handle's input; one that waits for its frame comes first. */
function tell(handle: Handle, name: "input" | "change"): void {
  const waits = pending !== undefined;
  if (waits) cancelAnimationFrame(pending!);
  pending = undefined;
  const input = inputOf(handle);
  if (waits || name === "input") input?.dispatchEvent(new Event("input", { bubbles: true }));
  if (name === "change") input?.dispatchEvent(new Event("change", { bubbles: true }));
}
