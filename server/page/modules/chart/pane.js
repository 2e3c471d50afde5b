// The chart with what surrounds it: its buttons, its key, the slider that walks along the readings, its description.

import { loadCharting } from "./loader.js";
import { Chart } from "./chart.js";
import { ChartKey } from "./key.js";
import { isOnPaper, watchPaper } from "./theme.js";
import { CursorSlider } from "./cursor_slider.js";
import { fill, make, setText } from "../shared/dom.js";
import { chooseRadio, chosenRadio } from "../shared/fields.js";

/** @typedef {import("./chart.js").Scene} Scene */

/**
 * @typedef {object} ChartContent
 * @property {Omit<Scene, "fromPeak">} scene
 * @property {string} description for those who do not see the chart
 * @property {import("./key.js").KeyEntry[]} key
 */

export class ChartPane {
  #plot;
  #empty = make("p", { class: "chart__empty" }, "The chart is being fetched.");
  #paper;
  #canvas;
  #scale;
  #key;
  #slider;
  /** @type {Chart | null} */
  #chart = null;
  /** @type {ChartContent | null} */
  #content = null;

  /**
   * @param {HTMLElement} host
   * @param {string} name what the ids of its parts begin with: there may be several charts on the page
   */
  constructor(host, name) {
    this.#canvas = make("div", { id: `${name}-canvas`, class: "chart__canvas" });
    this.#paper = make("div", { id: `${name}-paper`, class: "chart__paper" });
    this.#plot = make(
      "div",
      {
        id: `${name}-plot`,
        class: "chart__plot",
        role: "img",
        "aria-label": "Level against frequency; no readings yet",
      },
      this.#canvas,
      this.#paper,
      this.#empty,
    );
    this.#scale = `${name}-level-scale`;
    this.#slider = new CursorSlider(name, (reading) => this.#chart?.point(reading));
    this.#key = new ChartKey(name);
    fill(host, this.#bar(), this.#plot, this.#slider.element, this.#key.element);
    watchPaper(
      () => this.#drawOnPaper(),
      () => {
        this.#chart?.paint();
        fill(this.#paper);
      },
    );
  }

  #bar() {
    const zoom = (
      /** @type {"in" | "out" | "whole" | "passband"} */ how,
      /** @type {string} */ text,
      /** @type {string | null} */ name,
    ) =>
      make(
        "button",
        { type: "button", class: "button button--small", "aria-label": name, onclick: () => this.#chart?.zoom(how) },
        text,
      );
    const scale = (/** @type {string} */ value, /** @type {string} */ text, /** @type {boolean} */ checked) =>
      make(
        "label",
        {},
        make("input", { type: "radio", name: this.#scale, value, checked, onchange: () => this.#rescale() }),
        make("span", {}, text),
      );
    return make(
      "div",
      { class: "chart__bar" },
      make(
        "div",
        { class: "choice", role: "radiogroup", "aria-label": "Level scale" },
        scale("measured", "As measured", true),
        scale("peak", "From the peak", false),
      ),
      make(
        "div",
        { class: "actions", role: "group", "aria-label": "Part of the sweep shown" },
        zoom("in", "+", "Zoom in"),
        zoom("out", "\u2212", "Zoom out"),
        zoom("passband", "Passband", null),
        zoom("whole", "Whole", null),
      ),
    );
  }

  /** Fetch the charting library and draw. To be called once. */
  async prepare() {
    try {
      this.#chart = await Chart.inside(await loadCharting(), this.#canvas);
      this.#draw();
      // The page may have gone on paper while the chart was still being fetched.
      if (isOnPaper()) this.#drawOnPaper();
    } catch (error) {
      const reason = error instanceof Error ? error.message : String(error);
      setText(
        this.#empty,
        `The chart cannot be drawn (${reason}); the figures and the table of readings are complete.`,
      );
    }
  }

  #drawOnPaper() {
    fill(this.#paper, this.#chart?.picture());
  }

  /** @param {ChartContent} next */
  show(next) {
    this.#content = next;
    this.#plot.setAttribute("aria-label", next.description);
    this.#key.show(next.key);
    this.#slider.show(next.scene.curves[0]?.readings ?? []);
    this.#draw();
  }

  /** Another scan is in view: show all of it. */
  reset() {
    this.#chart?.follow();
    this.#slider.reset();
  }

  /** @param {"measured" | "peak"} scale */
  scale(scale) {
    chooseRadio(this.#scale, scale);
    this.#rescale();
  }

  #rescale() {
    this.#chart?.follow();
    this.#draw();
    this.#slider.repeat();
  }

  #draw() {
    if (this.#content === null || this.#chart === null) return;
    const { scene } = this.#content;
    this.#chart.show({ ...scene, fromPeak: chosenRadio(this.#scale) === "peak" });
    const bare = scene.curves.every(({ readings, rough, result }) => readings.length + rough.length === 0 && !result?.curve);
    setText(this.#empty, bare ? "Readings appear here as they are taken." : "");
  }
}
