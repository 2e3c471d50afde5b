// How a step is hooked up: cautions first, then which way, which leads, which controls, and what good looks like.

import { cautionList } from "../shared/cautions.js";
import { make } from "../shared/dom.js";
import { Slot } from "../shared/slot.js";
import { settingText } from "../shared/units.js";
import { capital, inWords } from "../shared/words.js";

/** @typedef {import("./types.js").JobStep} JobStep */
/** @typedef {import("./types.js").Way} Way */
/** @typedef {import("./types.js").Adjuster} Adjuster */

export class HookupPanel {
  element;
  #fold = make("details", { class: "hookup-fold", open: true });
  #body = new Slot(make("div", { class: "stack" }));
  /** @type {JobStep | null} */
  #step = null;
  /** @type {string | null} */
  #chosen = null;
  #fixed = false;
  #onChoose;

  /** @param {() => void} onChoose */
  constructor(onChoose) {
    this.#onChoose = onChoose;
    this.#fold.append(make("summary", {}, make("h2", {}, "Cautions and hookup")), this.#body.element);
    this.element = make("section", { class: "sheet hookup-panel", "aria-label": "Cautions and hookup" }, this.#fold);
  }

  /** The way the step is to be measured in. @returns {string | null} */
  get way() {
    return this.#chosen;
  }

  /**
   * @param {JobStep} step
   * @param {string | null} running the way it runs in now, null where it does not
   */
  show(step, running) {
    const ways = step.ways.map(({ name }) => name);
    const fixed = running !== null;
    if (fixed !== this.#fixed) {
      this.#fixed = fixed;
      // On a phone the work comes under the eye while the step runs; folded, the cautions are one tap away.
      this.#fold.open = !fixed || matchMedia("(min-width: 62rem)").matches;
    }
    if (running !== null) this.#chosen = running;
    if (this.#chosen === null || !ways.includes(this.#chosen))
      this.#chosen = ways.includes(String(step.state.way)) ? step.state.way : (ways[0] ?? null);
    this.#step = step;
    this.#draw();
  }

  #draw() {
    const step = this.#step;
    if (step === null) return;
    const way = step.ways.find(({ name }) => name === this.#chosen);
    const { state: _, ...plan } = step;
    this.#body.show([plan, this.#chosen, this.#fixed], () => [
      way && cautionList(way.cautions),
      step.ways.length > 1 && this.#choice(step.ways),
      way && make("p", { class: "because" }, make("strong", {}, "Why this way: "), `${way.because}.`),
      way && leads(way),
      make("div", { class: "good" }, make("h3", {}, "What good looks like"), make("p", {}, goodText(step))),
      step.adjusters.length > 0 && adjusters(step.adjusters),
    ]);
  }

  /** @param {Way[]} ways */
  #choice(ways) {
    const option = (/** @type {Way} */ { name, measured }) =>
      make(
        "label",
        { class: "option option--way" },
        make("input", {
          type: "radio",
          name: "way",
          value: name,
          checked: name === this.#chosen,
          disabled: this.#fixed && name !== this.#chosen,
          "data-control": `way ${name}`,
          onchange: () => this.#choose(name),
        }),
        make(
          "span",
          {},
          make("strong", {}, capital(name)),
          make("span", { class: "option__more" }, `measures ${measured}`),
        ),
      );
    return make(
      "fieldset",
      { class: "group group--plain" },
      make("legend", {}, "Way"),
      make("div", { class: "options" }, ...ways.map(option)),
    );
  }

  /** @param {string} name */
  #choose(name) {
    this.#chosen = name;
    this.#draw();
    this.#onChoose();
  }
}

/** @param {JobStep} step */
function goodText({ good, nominal_khz: nominal }) {
  const said = capital(good.replace(/^Good is: /, ""));
  return nominal === null ? said : `Nominal ${settingText(nominal * 1e3)}. ${said}`;
}

/** @param {Way} way */
function leads({ hookup }) {
  const controls = Object.entries(hookup.controls ?? {});
  const rows = [
    lead("Source", hookup.source_to, hookup.source_through),
    lead("Meter", hookup.meter_to, hookup.meter_through),
    lead("Counter", hookup.counter_to, hookup.counter_through),
    controls.length > 0 &&
      make(
        "div",
        { class: "leads__row" },
        make("dt", {}, "Set"),
        make(
          "dd",
          {},
          make(
            "ul",
            { class: "controls" },
            ...controls.map(([name, value]) => make("li", {}, `${inWords(name)} `, make("strong", {}, String(value)))),
          ),
        ),
      ),
  ].filter((row) => row instanceof HTMLElement);
  return rows.length === 0
    ? make("p", { class: "hint" }, "Nothing is connected for this step.")
    : make("dl", { class: "leads" }, ...rows);
}

/**
 * @param {string} role
 * @param {string | null} to
 * @param {string | null} through
 */
function lead(role, to, through) {
  return (
    to !== null &&
    make(
      "div",
      { class: "leads__row" },
      make("dt", {}, role),
      make("dd", {}, make("strong", {}, to), through && make("span", { class: "leads__way" }, `through ${through}`)),
    )
  );
}

/** @param {Adjuster[]} list */
function adjusters(list) {
  return make(
    "div",
    {},
    make(
      "h3",
      {},
      list.every(({ measure_only: only }) => only) ? "What is there, and is not turned" : "What is turned",
    ),
    make(
      "ul",
      { class: "adjusters" },
      ...list.map((each) => make("li", {}, make("strong", {}, each.name), ` ${adjusterText(each)}`)),
    ),
  );
}

/** @param {Adjuster} adjuster */
function adjusterText({ measure_only: only, bands, end, clockwise }) {
  const parts = [
    only && "set in the factory: measured, never turned",
    bands.length > 0 && `band ${bands.join(", ")}`,
    end && `at the ${end} end of the dial`,
    !only && (clockwise === "raises" || clockwise === "lowers") && `clockwise ${clockwise} the frequency`,
  ].filter(Boolean);
  return parts.length === 0 ? "" : `· ${parts.join(" · ")}`;
}
