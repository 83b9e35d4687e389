/** Marks of entries. `crypto.randomUUID` is missing where a phone comes by plain http. */

/** Make a random UUID (RFC 9562, version 4). */
export function newUid(): string {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6]! & 0x0f) | 0x40;
  bytes[8] = (bytes[8]! & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return [[0, 8], [8, 12], [12, 16], [16, 20], [20, 32]]
    .map(([from, to]) => hex.slice(from, to)).join("-");
}

/** Give a form the mark of a new entry. */
export function renew(form: HTMLFormElement): void {
  const input = form.querySelector<HTMLInputElement>('input[name="uid"]');
  if (input) input.value = newUid();
}

/** Give the hidden field of that name, or nothing. */
export function hidden(form: HTMLFormElement, name: string): string {
  return form.querySelector<HTMLInputElement>(`input[type="hidden"][name="${name}"]`)?.value ?? "";
}
