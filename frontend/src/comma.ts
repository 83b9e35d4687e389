/**
 * Many phones' keys for numbers have a comma and no point. There it can only be a decimal comma,
 * so in a field with `inputmode="decimal"` a point takes its place as it is typed.
 */

/** Listen on every page. */
export function startCommas(): void {
  document.addEventListener("beforeinput", (event) => {
    const input = event.target;
    if (!(input instanceof HTMLInputElement) || input.inputMode !== "decimal") return;
    if (event.data !== "," || event.isComposing) return;
    event.preventDefault();
    const end = input.value.length;
    input.setRangeText(".", input.selectionStart ?? end, input.selectionEnd ?? end, "end");
    input.dispatchEvent(new Event("input", { bubbles: true }));
  });
}
