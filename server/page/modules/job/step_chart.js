// The curves of a step that sweeps: what is read now, over what was left and what was found, one place at a time.

import { ChartPane } from "../chart/pane.js";
import { CURVE_STYLES } from "../chart/theme.js";
import { make } from "../shared/dom.js";
import { Slot } from "../shared/slot.js";
import { capital, counted } from "../shared/words.js";
import { resultSentence } from "../scan/result.js";
import { sweepsOf } from "./sweeps.js";

/** @typedef {import("./sweeps.js").NamedSweep} NamedSweep */
/** @typedef {import("./sweeps.js").StepRuns} StepRuns */

/** So many places are offered side by side; more are a list. */
const MOST_BESIDE = 4;

export class StepChart {
  #figure = make("figure", { class: "chart", "aria-label": "Chart" });
  #places = new Slot(make("div", {}));
  element = make(
    "div",
    {},
    make("div", { class: "sheet__head" }, make("h2", { id: "step-chart-title" }, "Curve"), this.#places.element),
    this.#figure,
  );
  /** @type {ChartPane | null} */
  #pane = null;
  #due = false;
  /** @type {StepRuns | null} */
  #runs = null;
  #shown = "";
  #place = "";
  /** The place the person chose to look at; null follows the latest. @type {string | null} */
  #chosen = null;

  /** @param {StepRuns} runs */
  show(runs) {
    this.#runs = runs;
    if (this.#due) return;
    this.#due = true;
    requestAnimationFrame(() => this.#draw());
  }

  #draw() {
    this.#due = false;
    if (this.#runs === null) return;
    const all = sweepsOf(this.#runs);
    const host = this.element.parentElement;
    if (host !== null) host.hidden = all.length === 0;
    if (all.length === 0) return;
    const places = [...new Set(all.map(({ place }) => place))];
    const now = all.find(({ phase }) => phase === "now");
    const place =
      this.#chosen !== null && places.includes(this.#chosen) ? this.#chosen : (now?.place ?? places[0] ?? "");
    this.#places.show([places, place], () => [places.length > 1 && this.#placeChoice(places, place)]);
    this.#drawCurves(all.filter((sweep) => sweep.place === place));
  }

  /** @param {NamedSweep[]} sweeps */
  #drawCurves(sweeps) {
    const key = JSON.stringify([
      sweeps.map(({ phase, place, run, curve }) => [phase, place, run, curve.readings.length, curve.result?.centre_hz]),
    ]);
    if (key === this.#shown) return;
    this.#shown = key;
    const place = sweeps[0]?.place ?? "";
    if (this.#pane === null) {
      this.#pane = new ChartPane(this.#figure, "step-chart");
      this.#pane.prepare();
    } else if (place !== this.#place) this.#pane.reset();
    this.#place = place;
    this.#pane.show(contentOf(sweeps, this.#runs?.nominalKhz ?? null));
  }

  /**
   * @param {string[]} places
   * @param {string} chosen
   */
  #placeChoice(places, chosen) {
    if (places.length > MOST_BESIDE) return this.#placeList(places, chosen);
    const option = (/** @type {string} */ place) =>
      make(
        "label",
        {},
        make("input", {
          type: "radio",
          name: "sweep-place",
          value: place,
          checked: place === chosen,
          "data-control": `sweep ${place}`,
          onchange: () => this.#choose(place),
        }),
        make("span", {}, place),
      );
    return make(
      "div",
      { class: "choice choice--wrap", role: "radiogroup", "aria-label": "Which sweep" },
      ...places.map(option),
    );
  }

  /**
   * @param {string[]} places
   * @param {string} chosen
   */
  #placeList(places, chosen) {
    const list = make(
      "select",
      { "aria-label": "Which sweep", "data-control": "sweep", onchange: () => this.#choose(list.value) },
      ...places.map((place) => make("option", { value: place, selected: place === chosen }, place)),
    );
    return make("div", { class: "sweep-list" }, list);
  }

  /** @param {string} place */
  #choose(place) {
    this.#chosen = place;
    this.#draw();
  }
}

/**
 * @param {NamedSweep[]} sweeps
 * @param {number | null} nominalKhz
 * @returns {import("../chart/pane.js").ChartContent}
 */
function contentOf(sweeps, nominalKhz) {
  return {
    scene: {
      curves: sweeps.map(({ curve }) => curve),
      edgesHz: edges(sweeps),
      nominalHz: nominalKhz === null ? null : nominalKhz * 1e3,
    },
    description: `Level against frequency. ${sweeps.map(({ phase, curve }) => `${capital(phase)}: ${counted(curve.readings.length, "reading")}. ${resultSentence(curve.result)}`).join(" ")}`,
    key: sweeps.map(({ phase, run }, curve) => ({
      sample: /** @type {const} */ ("curve"),
      curve,
      text: `${CURVE_STYLES[curve]?.letter}: ${phase}, run ${run}`,
      remove: null,
    })),
  };
}

/**
 * @param {NamedSweep[]} sweeps
 * @returns {[number, number] | null}
 */
function edges(sweeps) {
  let low = Infinity;
  let high = -Infinity;
  for (const { curve } of sweeps) {
    for (const { frequency_hz: hz } of [...curve.readings, ...curve.rough, ...curve.silent]) {
      low = Math.min(low, Number(hz));
      high = Math.max(high, Number(hz));
    }
  }
  return low < high ? [low, high] : null;
}
