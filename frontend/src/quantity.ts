/** Lengths as an input has them: millimetres in decimals, inches in fractions or decimals. */

export type Unit = "mm" | "in";

export const MM: Record<Unit, number> = { mm: 1, in: 25.4 }; // exact
const FINEST = 64; // a rule's finest marks, in parts of an inch
const TYPED = /^\s*(-?\d+(?:\.\d*)?|-?\.\d+)?(?:(?:\s+|(?<=^\s*))(\d+)\/(\d+))?\s*(mm|in|")?\s*$/;

/** Read what was typed, in `unit` where it names none itself; null for what is no length. */
export function readLength(text: string, unit: Unit): number | null {
  const [, whole, above, below, named] = TYPED.exec(text) ?? [];
  if (whole === undefined && above === undefined) return null;
  const fraction = above === undefined ? 0 : Number(above) / Number(below);
  const value = Number(whole ?? 0) + (whole?.startsWith("-") ? -fraction : fraction);
  const from = named === undefined ? unit : named === "mm" ? "mm" : "in";
  return Number.isFinite(value) ? value * MM[from] / MM[unit] : null;
}

/** Write a length rounded to `step`, as one would type it in `unit`. */
export function writeLength(value: number, unit: Unit, step: number): string {
  const rounded = Math.round(value / step) * step;
  return unit === "in" ? inches(rounded) : String(Number(rounded.toFixed(3)));
}

function inches(value: number): string {
  const parts = Math.round(Math.abs(value) * FINEST);
  const [whole, rest] = [Math.floor(parts / FINEST), parts % FINEST];
  let [above, below] = [rest, FINEST];
  while (above > 0 && above % 2 === 0) [above, below] = [above / 2, below / 2];
  const text = [whole || rest === 0 ? String(whole) : "", rest ? `${above}/${below}` : ""];
  return (value < 0 && parts > 0 ? "-" : "") + text.filter(Boolean).join(" ");
}
