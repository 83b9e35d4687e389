/** The outbox in this browser's storage: a name for each entry. No tab writes over another's. */
import type { Values } from "./fields";
import { names, read, remove, write } from "./storage";

/** One submitted form that the server has not confirmed yet. */
export interface Entry {
  uid: string;
  order: number;
  key: string; // data-keep of its form
  what: string; // data-keep-what: what one is called, and several
  action: string;
  page: string; // where its form is
  seen: string; // data-keep-seen of its form
  fields: [string, string][];
  values: Values; // what was typed, to be put back where it has to be corrected
  refused?: string; // what the server said against it
}

/** An entry that was confirmed, and the address the server led to. */
interface Sent {
  uid: string;
  url: string;
}

const SENT = "sent";
const SENT_KEPT = 50;

function nameOf(uid: string): string {
  return `outbox.${uid}`;
}

/** Give the entry of that uid, or null. */
export function entry(uid: string): Entry | null {
  return read<Entry>(nameOf(uid));
}

/** List all entries in the order they were submitted. */
export function entries(): Entry[] {
  return names("outbox.").map((name) => read<Entry>(name))
    .filter((found) => found !== null).sort((one, other) => one.order - other.order);
}

/** List the entries that still wait for the server. */
export function waiting(): Entry[] {
  return entries().filter((found) => found.refused === undefined);
}

/** List the entries the server refused. */
export function refused(): Entry[] {
  return entries().filter((found) => found.refused !== undefined);
}

/**
 * Add or change an entry; false where the browser keeps nothing. An entry that corrects one
 * version takes the place of one that waits with the same correction not yet sent.
 */
export function put(added: Entry): boolean {
  const last = Math.max(0, ...entries().map((found) => found.order));
  const older = versionOf(added) === ""
    ? undefined
    : waiting().find((found) => found.key === added.key && versionOf(found) === versionOf(added)
      && found.uid !== added.uid);
  const order = added.order || older?.order || Math.max(Date.now(), last + 1);
  if (!write(nameOf(added.uid), { ...added, order })) return false;
  if (older) drop(older.uid);
  return true;
}

/** The version a form corrects: its hidden field `seen`, empty for what is only added. */
export function versionOf(found: Pick<Entry, "fields">): string {
  return found.fields.find(([name]) => name === "seen")?.[1] ?? "";
}

/** Take an entry out. */
export function drop(uid: string): void {
  remove(nameOf(uid));
}

/** Take out an entry the server has confirmed, and remember where it led. */
export function confirm(uid: string, url: string): void {
  drop(uid);
  write(SENT, [...sent(), { uid, url }].slice(-SENT_KEPT));
}

/** Give the address a confirmed entry led to, or null. */
export function sentTo(uid: string): string | null {
  return sent().find((found) => found.uid === uid)?.url ?? null;
}

function sent(): Sent[] {
  return read<Sent[]>(SENT) ?? [];
}
