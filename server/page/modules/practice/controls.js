// The front of the simulated receiver: a select for each switch, a slider with a field for each knob.

import { make } from "../shared/dom.js";
import { capital, inWords } from "../shared/words.js";

/** @typedef {import("./types.js").PracticeControl} PracticeControl */

/** A slider has so many places between its ends. */
const PLACES = 200;

/**
 * @param {PracticeControl[]} controls
 * @param {(name: string, to: string | number) => void} set
 * @returns {HTMLElement[]}
 */
export const controlFields = (controls, set) => controls.map((each) => field(each, set));

/** @param {string} name */
const labelOf = (name) => capital(inWords(name));

/**
 * @param {PracticeControl} control
 * @param {(name: string, to: string | number) => void} set
 */
function field(control, set) {
  const { name, choices, value } = control;
  const part = choices === undefined ? knob(control, set) : switchOf(name, choices, String(value), set);
  return make("div", { class: "practice__control" }, ...part);
}

/**
 * @param {string} name
 * @param {string[]} choices
 * @param {string} value
 * @param {(name: string, to: string | number) => void} set
 */
function switchOf(name, choices, value, set) {
  const select = make("select", { onchange: () => set(name, select.value) }, ...choices.map((each) => option(each, each === value)));
  return [make("label", {}, make("span", {}, labelOf(name)), select)];
}

/**
 * @param {string} text
 * @param {boolean} selected
 */
const option = (text, selected) => make("option", { value: text, selected }, text);

/**
 * @param {PracticeControl} control
 * @param {(name: string, to: string | number) => void} set
 */
function knob({ name, low = 0, high = 1, unit = "", value }, set) {
  const step = Number(((high - low) / PLACES).toPrecision(1));
  const slider = make("input", { type: "range", min: low, max: high, step: "any", value, "aria-label": `${labelOf(name)}, slider` });
  const number = make("input", { type: "number", min: low, max: high, step: "any", value });
  const tell = (/** @type {HTMLInputElement} */ from, /** @type {HTMLInputElement} */ other) => {
    const to = Math.min(Math.max(Number(from.value), low), high);
    other.value = from.value = String(to);
    set(name, to);
  };
  slider.addEventListener("input", () => (number.value = String(round(Number(slider.value), step))));
  slider.addEventListener("change", () => {
    slider.value = String(round(Number(slider.value), step));
    tell(slider, number);
  });
  slider.addEventListener("keydown", (event) => stepped(event, slider, step));
  number.addEventListener("change", () => tell(number, slider));
  const field = make("span", { class: "measure" }, number, make("span", { class: "unit" }, unit));
  return [make("label", {}, make("span", {}, labelOf(name)), field), slider];
}

/**
 * Where any value may be typed, the arrow keys still go by whole steps.
 * @param {KeyboardEvent} event
 * @param {HTMLInputElement} slider
 * @param {number} step
 */
function stepped(event, slider, step) {
  const side = { ArrowUp: 1, ArrowRight: 1, ArrowDown: -1, ArrowLeft: -1 }[event.key];
  if (side === undefined) return;
  event.preventDefault();
  slider.value = String(round(Number(slider.value) + side * step, step));
  slider.dispatchEvent(new Event("change"));
}

/**
 * @param {number} value
 * @param {number} step
 */
const round = (value, step) => Number((Math.round(value / step) * step).toPrecision(10));
