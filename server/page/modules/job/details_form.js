// The fields of a job's header, for a new job and for one that is changed.

import { make } from "../shared/dom.js";
import { parseNumber } from "../shared/quantity.js";
import { trimmed } from "../shared/units.js";

/** @typedef {import("./types.js").JobFields} JobFields */

const COLDEST_C = -40;
const HOTTEST_C = 60;

/** @typedef {"make" | "serial" | "owner" | "operator" | "calibration_note"} TextField */

/** @type {readonly {name: TextField, label: string, hint: string | null, complete: string}[]} */
const TEXTS = Object.freeze([
  { name: "make", label: "Make and model", hint: "as the set or its owner names it", complete: "off" },
  { name: "serial", label: "Serial number", hint: "the history of a set goes by it", complete: "off" },
  { name: "owner", label: "Owner", hint: null, complete: "off" },
  { name: "operator", label: "Operator", hint: "who does the job", complete: "name" },
]);

export class DetailsFields {
  /** @type {HTMLElement} */
  element;
  /** @type {Map<TextField, HTMLInputElement | HTMLTextAreaElement>} */
  #texts = new Map();
  #temperature;
  #error;

  /** @param {string} prefix of the ids */
  constructor(prefix) {
    const fields = TEXTS.map(({ name, label, hint, complete }) => this.#text(prefix, name, label, hint, complete));
    this.#temperature = make("input", {
      id: `${prefix}-temperature`,
      type: "text",
      inputmode: "decimal",
      autocomplete: "off",
      "aria-describedby": `${prefix}-temperature-unit ${prefix}-temperature-error`,
    });
    this.#error = make("p", { id: `${prefix}-temperature-error`, class: "field__error" });
    this.#temperature.addEventListener("input", () => this.#clear());
    this.element = make(
      "div",
      { class: "form-grid" },
      ...fields,
      this.#temperatureField(prefix),
      this.#noteField(`${prefix}-calibration_note`),
    );
  }

  /** @param {Partial<Record<TextField, string | null>> & {room_temperature_c?: number | null}} job */
  fill(job) {
    for (const [name, input] of this.#texts) input.value = job[name] ?? "";
    const temperature = job.room_temperature_c ?? null;
    this.#temperature.value = temperature === null ? "" : trimmed(temperature);
    this.#clear();
  }

  /** @returns {JobFields | null} null where a field was refused; it then has the focus */
  read() {
    const typed = this.#temperature.value.trim();
    const temperature = typed === "" ? null : parseNumber(typed, "°C");
    if (typed !== "" && (temperature === null || temperature < COLDEST_C || temperature > HOTTEST_C)) {
      this.#error.textContent = `Room temperature must be a number from ${trimmed(COLDEST_C)} to ${HOTTEST_C} °C, or left empty.`;
      this.#temperature.setAttribute("aria-invalid", "true");
      this.#temperature.focus();
      return null;
    }
    const texts = Object.fromEntries([...this.#texts].map(([name, input]) => [name, input.value.trim()]));
    return { ...texts, room_temperature_c: temperature };
  }

  /** @param {string} prefix */
  #temperatureField(prefix) {
    const unit = make("span", { id: `${prefix}-temperature-unit`, class: "unit" }, "°C");
    return make(
      "div",
      { class: "field" },
      make("label", { for: `${prefix}-temperature` }, "Room temperature"),
      make("span", { class: "measure" }, this.#temperature, unit),
      this.#error,
    );
  }

  /** @param {string} id */
  #noteField(id) {
    const note = make("textarea", { id, rows: 2, "aria-describedby": `${id}-hint` });
    this.#texts.set("calibration_note", note);
    return make(
      "div",
      { class: "field form-grid__wide" },
      make("label", { for: id }, "Calibration note"),
      note,
      make("p", { id: `${id}-hint`, class: "hint" }, "when the instruments were last checked, and against what"),
    );
  }

  #clear() {
    this.#error.textContent = "";
    this.#temperature.removeAttribute("aria-invalid");
  }

  /**
   * @param {string} prefix
   * @param {TextField} name
   * @param {string} label
   * @param {string | null} hint
   * @param {string} complete
   */
  #text(prefix, name, label, hint, complete) {
    const id = `${prefix}-${name}`;
    const input = make("input", {
      id,
      class: "text",
      type: "text",
      autocomplete: complete,
      "aria-describedby": hint && `${id}-hint`,
    });
    this.#texts.set(name, input);
    return make(
      "div",
      { class: "field" },
      make("label", { for: id }, label),
      input,
      hint && make("p", { id: `${id}-hint`, class: "hint" }, hint),
    );
  }
}
