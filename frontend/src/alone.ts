/**
 * One tab at a time. Web Locks hold where the browser has them; it has none where a phone comes
 * by plain http, so there a lease in the storage does, which a tab that died gives up by itself.
 * Should two slip through all the same, an entry's uid makes the second sending harmless.
 */
import { read, remove, write } from "./storage";
import { newUid } from "./uid";

const NAME = "outbox-lease";
const LEASE_MS = 45_000; // longer than one sending may take, see outbox.ts
const LOOK_MS = 250;

interface Lease {
  owner: string;
  until: number;
}

/** Told before each step of the work: nobody else begins for a while yet. */
export type GoOn = () => void;

const me = newUid();
let earlier: Promise<unknown> = Promise.resolve();

/** Run `work` when nothing else that came here is running, in this tab or another. */
export function alone<T>(work: (goOn: GoOn) => Promise<T>): Promise<T> {
  const turn = earlier.then(() => aloneAmongTabs(work));
  earlier = turn.catch(() => undefined);
  return turn;
}

async function aloneAmongTabs<T>(work: (goOn: GoOn) => Promise<T>): Promise<T> {
  // The types promise locks everywhere; an insecure page has none.
  const locks = navigator.locks as LockManager | undefined;
  if (locks) return await locks.request(`springloom-${NAME}`, () => work(() => undefined)) as T;
  await lease();
  try {
    return await work(hold);
  } finally {
    if (read<Lease>(NAME)?.owner === me) remove(NAME);
  }
}

function hold(): void {
  write(NAME, { owner: me, until: Date.now() + LEASE_MS } satisfies Lease);
}

async function lease(): Promise<void> {
  for (;;) {
    const held = read<Lease>(NAME);
    if (held === null || held.until < Date.now()) {
      hold();
      await pause(LOOK_MS); // long enough for another tab's writing to show
      const now = read<Lease>(NAME);
      if (now === null || now.owner === me) return; // null: a browser that keeps nothing
    }
    await pause(LOOK_MS);
  }
}

function pause(milliseconds: number): Promise<void> {
  return new Promise((done) => setTimeout(done, milliseconds));
}
