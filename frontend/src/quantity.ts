/** Lengths as an input has them: millimetres in decimals, inches in fractions or decimals. */

export type Unit = "mm" | "in";

export const MM: Record<Unit, number> = { mm: 1, in: 25.4 }; // exact
const FINEST = 64; // a rule's finest marks, in parts of an inch
const TYPED = /^(-?)(.*?)\s*(mm|in|")?$/;
const FRACTION = /^(?:(\d+)\s+)?(\d+)\/(\d+)$/;
const DECIMAL = /^(?:\d+\.?\d*|\.\d+)$/;

/** Read what was typed, in `unit` where it names none itself; null for what is no length. */
export function readLength(text: string, unit: Unit): number | null {
  const [, sign, number = "", named] = TYPED.exec(text.trim()) ?? [];
  const size = readNumber(number);
  if (size === null) return null;
  const from = named === undefined ? unit : named === "mm" ? "mm" : "in";
  return (sign ? -size : size) * MM[from] / MM[unit];
}

function readNumber(text: string): number | null {
  const [, whole = "0", above, below] = FRACTION.exec(text) ?? [];
  const value = above === undefined ? Number(text) : Number(whole) + Number(above) / Number(below);
  return Number.isFinite(value) && (above !== undefined || DECIMAL.test(text)) ? value : null;
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
