// A part of the page that is written anew only where what it shows differs, and gives the focus back to the same control.

import { fill } from "./dom.js";

/** @typedef {import("./dom.js").Child} Child */

export class Slot {
  #shown = "";

  /** @param {HTMLElement} element */
  constructor(element) {
    this.element = element;
  }

  /**
   * @param {unknown} content all that the children depend on
   * @param {() => Child[]} children
   */
  show(content, children) {
    const key = JSON.stringify([content]);
    if (key === this.#shown) return;
    this.#shown = key;
    const control = focusedControl(this.element);
    fill(this.element, ...children());
    refocus(this.element, control);
  }
}

/**
 * The name of the control that holds the focus. Controls that may be written anew carry one as `data-control`.
 * @param {HTMLElement} host
 * @returns {string | undefined}
 */
export function focusedControl(host) {
  const active = document.activeElement;
  return active instanceof HTMLElement && host.contains(active) ? active.dataset.control : undefined;
}

/**
 * @param {HTMLElement} host
 * @param {string | undefined} control
 */
export function refocus(host, control) {
  if (control === undefined) return;
  const again = host.querySelector(`[data-control="${CSS.escape(control)}"]`);
  if (again instanceof HTMLElement) again.focus();
}
