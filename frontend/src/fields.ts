/** What stands in a form's fields, as data, and back. */

type Field = HTMLInputElement | HTMLSelectElement | HTMLTextAreaElement;

/** Values by name, in the order of the page; true or false for boxes that are ticked. */
export type Values = Record<string, (string | boolean)[]>;

const NEVER = new Set(["hidden", "password", "file", "submit", "button", "reset", "image"]);

function fieldsOf(form: HTMLFormElement): Field[] {
  return [...form.elements].filter((element): element is Field =>
    (element instanceof HTMLInputElement || element instanceof HTMLSelectElement
      || element instanceof HTMLTextAreaElement)
    && element.name !== "" && !NEVER.has(element.type)
    && !element.matches("[data-advance]")); // the form's own key says what is chosen there
}

function isTick(field: Field): field is HTMLInputElement {
  return field.type === "checkbox" || field.type === "radio";
}

function valueOf(field: Field): string | boolean {
  return isTick(field) ? field.checked : field.value;
}

function renderedValue(field: Field): string | boolean {
  if (field instanceof HTMLSelectElement) {
    const options = [...field.options];
    return (options.find((option) => option.defaultSelected) ?? options[0])?.value ?? "";
  }
  return isTick(field) ? field.defaultChecked : field.defaultValue;
}

function gathered(form: HTMLFormElement, value: (field: Field) => string | boolean): Values {
  const values: Values = {};
  for (const field of fieldsOf(form)) (values[field.name] ??= []).push(value(field));
  return values;
}

/** Give what stands in the form now. */
export function typed(form: HTMLFormElement): Values {
  return gathered(form, valueOf);
}

/** Whether the form stands as the server rendered it. */
export function isAsRendered(form: HTMLFormElement): boolean {
  return fieldsOf(form).every((field) => valueOf(field) === renderedValue(field));
}

/** Put values into the form, telling every field that changes; whether any did. */
export function fill(form: HTMLFormElement, values: Values): boolean {
  const places = new Map<string, number>();
  let changed = false;
  for (const field of fieldsOf(form)) {
    const place = places.get(field.name) ?? 0;
    places.set(field.name, place + 1);
    const value = values[field.name]?.[place];
    if (value === undefined || value === valueOf(field)) continue;
    if (isTick(field)) field.checked = value === true;
    else field.value = String(value);
    field.dispatchEvent(new Event("input", { bubbles: true }));
    changed = true;
  }
  return changed;
}

/** Give the rendered values of a form that was filled in, and tell its fields. */
export function unfill(form: HTMLFormElement): void {
  fill(form, gathered(form, renderedValue));
}
