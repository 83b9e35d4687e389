/** Says in words what waits here, in the page's `#offline`; without one it makes its own. */
import { button, made } from "./page";
import type { Entry } from "./queue";

const APART = /[\s|]+/; // "reading readings" or "reading|readings"

/** What the bar can be asked to do with an entry the server refused. */
export interface Choices {
  correct: (entry: Entry) => void;
  again: (entry: Entry) => void;
  discard: (entry: Entry) => void;
}

/** What is to be said. */
export interface State {
  waiting: Entry[];
  refused: Entry[];
  sent: Entry[]; // while nobody looked
  away: boolean;
  words: string; // anything else, first of all
}

/** Bring the bar to that state; it is hidden where there is nothing to say. */
export function tell(state: State, choices: Choices): void {
  const bar = theBar();
  const parts = [...lines(state).map((line) => made("p", line)),
    ...state.refused.map((entry) => refusal(entry, choices))];
  if (state.sent.length > 0 && state.waiting.length === 0) parts.push(anew());
  const text = parts.map((part) => part.textContent).join("\n");
  if (bar.dataset["says"] === text) return; // said again, a screen reader would repeat it
  bar.dataset["says"] = text;
  bar.replaceChildren(...parts);
  bar.hidden = parts.length === 0;
  bar.classList.toggle("calm", !state.away && !state.words && state.refused.length === 0);
}

function theBar(): HTMLElement {
  const found = document.getElementById("offline");
  if (found) return found;
  const bar = made("div", "", { id: "offline", role: "status" });
  document.body.prepend(bar);
  return bar;
}

function lines(state: State): string[] {
  const told = state.words ? [state.words] : [];
  const [one, more] = [state.waiting.length === 1, counted(state.waiting)];
  if (state.waiting.length > 0 && state.away) {
    told.push(`Offline: ${more} ${one ? "waits here and will be sent by itself."
      : "wait here and will be sent by themselves."}`);
  } else if (state.waiting.length > 0) {
    told.push(`Sending ${more}.`);
  } else if (state.sent.length > 0) {
    told.push(`All sent: ${counted(state.sent)} ${state.sent.length === 1 ? "is" : "are"} stored.`);
  }
  return told;
}

/** "2 readings", or "2 entries" where they are of more than one kind. */
function counted(entries: Entry[]): string {
  const kinds = new Set(entries.map((entry) => entry.what));
  const [kind] = kinds;
  const words = kinds.size === 1 && kind ? kind.split(APART) : ["entry", "entries"];
  const [singular = "entry", plural = singular.replace(/s?$/, "s")] = words;
  return `${entries.length} ${entries.length === 1 ? singular : plural}`;
}

function refusal(entry: Entry, choices: Choices): HTMLElement {
  const part = made("div", "", { class: "refused" });
  const [what = "entry"] = entry.what.split(APART);
  part.append(
    made("p", `The ${what} that waited here was not stored. ${entry.refused ?? ""}`),
    button("Correct it", () => choices.correct(entry)),
    button("Send it again", () => choices.again(entry)),
    button("Throw it away", () => choices.discard(entry)),
  );
  return part;
}

function anew(): HTMLElement {
  const part = made("p");
  part.append(made("a", "Show this page anew", { href: location.pathname + location.search }));
  return part;
}
