/**
 * What this browser keeps, as JSON under names of ours, apart for each store that is served here
 * (`<meta name="store">`). A browser that keeps nothing answers "no" and is no fault.
 */
import { meta } from "./page";

function full(name: string): string {
  return `springloom.${meta("store")}.${name}`;
}

/** Give what is kept under `name`, or null. */
export function read<T>(name: string): T | null {
  try {
    const text = localStorage.getItem(full(name));
    return text === null ? null : (JSON.parse(text) as T);
  } catch {
    return null;
  }
}

/** Keep `value` under `name`; false where the browser won't. */
export function write(name: string, value: unknown): boolean {
  try {
    localStorage.setItem(full(name), JSON.stringify(value));
    return true;
  } catch {
    return false;
  }
}

/** Forget what is kept under `name`. */
export function remove(name: string): void {
  try {
    localStorage.removeItem(full(name));
  } catch {
    // Nothing is kept here anyway.
  }
}

/** List the names that begin with `start`. */
export function names(start: string): string[] {
  try {
    const prefix = full("");
    return Object.keys(localStorage)
      .filter((key) => key.startsWith(prefix + start))
      .map((key) => key.slice(prefix.length));
  } catch {
    return [];
  }
}
