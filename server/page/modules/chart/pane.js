// The chart with what surrounds it: its buttons, its key, the slider that walks along the readings, its description.

import { loadCharting } from "./loader.js";
import { Chart } from "./chart.js";
import { ChartKey } from "./key.js";
import { watchPaper } from "./theme.js";
import { CursorSlider } from "./cursor_slider.js";
import { byId, fill, setText } from "../shared/dom.js";
import { chooseRadio, chosenRadio, radios } from "../shared/fields.js";

/** @typedef {import("./chart.js").Scene} Scene */

/**
 * @typedef {object} ChartContent
 * @property {Omit<Scene, "fromPeak">} scene
 * @property {string} description for those who do not see the chart
 * @property {import("./key.js").KeyEntry[]} key
 */

export class ChartPane {
  #plot = byId("chart-plot", HTMLElement);
  #empty = byId("chart-empty", HTMLElement);
  #paper = byId("chart-paper", HTMLElement);
  #key = new ChartKey();
  #slider = new CursorSlider((reading) => this.#chart?.point(reading));
  /** @type {Chart | null} */
  #chart = null;
  /** @type {ChartContent | null} */
  #content = null;

  constructor() {
    for (const radio of radios("level-scale")) radio.addEventListener("change", () => this.#rescale());
    for (const button of document.querySelectorAll("[data-zoom]")) {
      const how = /** @type {"in" | "out" | "whole" | "passband"} */ (button.getAttribute("data-zoom"));
      button.addEventListener("click", () => this.#chart?.zoom(how));
    }
    watchPaper(
      () => fill(this.#paper, this.#chart?.picture()),
      () => {
        this.#chart?.paint();
        fill(this.#paper);
      },
    );
  }

  /** Fetch the charting library and draw. To be called once. */
  async prepare() {
    try {
      this.#chart = await Chart.inside(await loadCharting(), byId("chart-canvas", HTMLElement));
      this.#draw();
    } catch (error) {
      const reason = error instanceof Error ? error.message : String(error);
      setText(this.#empty, `The chart cannot be drawn (${reason}); the figures and the table of readings are complete.`);
    }
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
    chooseRadio("level-scale", scale);
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
    this.#chart.show({ ...scene, fromPeak: chosenRadio("level-scale") === "peak" });
    const bare = scene.curves.every(({ readings, rough }) => readings.length + rough.length === 0);
    setText(this.#empty, bare ? "Readings appear here as they are taken." : "");
  }
}
