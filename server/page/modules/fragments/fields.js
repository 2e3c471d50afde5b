// What a form says: each field by its name, numbers as numbers. A field that is refused says why and has the focus.

import { parseFrequency, parseNumber } from "../shared/quantity.js";

/** @typedef {HTMLInputElement | HTMLTextAreaElement | HTMLSelectElement} Field */

/**
 * Read a form.
 * @param {HTMLFormElement} form
 * @returns {Record<string, unknown> | null} null where a field was refused
 */
export function readFields(form) {
  /** @type {Record<string, unknown>} */
  const body = {};
  let refused = false;
  for (const field of fieldsOf(form)) {
    if (field instanceof HTMLInputElement && field.type === "radio" && !field.checked) continue;
    if (field.matches(":disabled, [hidden] *")) continue;
    const read = readField(field);
    if (read.refused !== "") {
      refuse(field, read.refused);
      if (!refused) field.focus();
      refused = true;
    } else if (!("ifGiven" in field.dataset && read.value === "")) body[field.name] = read.value;
  }
  return refused ? null : body;
}

/** @param {HTMLFormElement} form */
export const fieldsOf = (form) =>
  /** @type {Field[]} */ ([...form.elements].filter((each) => each.matches("input[name], textarea[name], select[name]")));

/**
 * @param {Field} field
 * @returns {{value: unknown, refused: string}}
 */
function readField(field) {
  const typed = field.value.trim();
  const { number, frequency, refuse: sentence = "", needed, mayBeEmpty } = field.dataset;
  if (needed !== undefined && typed === "") return { value: null, refused: needed };
  if (number === undefined && frequency === undefined) return { value: typed, refused: "" };
  if (mayBeEmpty !== undefined && typed === "") return { value: null, refused: "" };
  const value = frequency === undefined ? parseNumber(typed, number) : parseFrequency(typed);
  const isFit = value !== null && isWithin(field, value);
  return { value: isFit ? value * Number(field.dataset.times ?? 1) : null, refused: isFit ? "" : sentence };
}

/**
 * @param {Field} field
 * @param {number} value
 */
function isWithin({ dataset }, value) {
  const { low = -Infinity, high = Infinity, whole } = dataset;
  return value >= Number(low) && value <= Number(high) && (whole === undefined || Number.isInteger(value));
}

/**
 * Say beside a field, or where its form says what went wrong, why it is refused.
 * @param {Field} field
 * @param {string} sentence
 */
export function refuse(field, sentence) {
  const beside = document.getElementById(`${field.id}-error`) ?? document.getElementById(field.form?.dataset.trouble ?? "");
  if (beside !== null) beside.textContent = sentence;
  field.setAttribute("aria-invalid", "true");
  field.addEventListener("input", () => accept(field), { once: true });
}

/** @param {Field} field */
export function accept(field) {
  const beside = document.getElementById(`${field.id}-error`);
  if (beside !== null) beside.textContent = "";
  field.removeAttribute("aria-invalid");
}
