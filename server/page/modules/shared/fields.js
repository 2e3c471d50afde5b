// One text field with its own error line.

import { byId } from "./dom.js";

/**
 * @param {string} id
 */
export function createField(id) {
  const input = byId(id, HTMLInputElement);
  const error = byId(`${id}-error`, HTMLElement);
  const clear = () => {
    error.textContent = "";
    input.removeAttribute("aria-invalid");
  };
  input.addEventListener("input", clear);
  return {
    input,
    clear,
    /**
     * @param {string} sentence
     * @returns {null}
     */
    refuse(sentence) {
      error.textContent = sentence;
      input.setAttribute("aria-invalid", "true");
      return null;
    },
  };
}

/** @typedef {ReturnType<typeof createField>} Field */

/**
 * Show the part of a group that belongs to the chosen radio button, and hide the others.
 * @param {string} attribute
 * @param {string} chosen
 */
export function showPart(attribute, chosen) {
  for (const part of document.querySelectorAll(`[${attribute}]`)) {
    if (part instanceof HTMLElement) part.hidden = part.getAttribute(attribute) !== chosen;
  }
}

/**
 * The radio buttons that share a name.
 * @param {string} name
 * @returns {HTMLInputElement[]}
 */
export function radios(name) {
  return [...document.querySelectorAll(`input[name="${name}"]`)].filter((each) => each instanceof HTMLInputElement);
}

/**
 * @param {string} name
 * @returns {string}
 */
export function chosenRadio(name) {
  return radios(name).find((radio) => radio.checked)?.value ?? "";
}

/**
 * @param {string} name
 * @param {string} value
 */
export function chooseRadio(name, value) {
  for (const radio of radios(name)) radio.checked = radio.value === value;
}
