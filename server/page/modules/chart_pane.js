// The chart with what surrounds it: its buttons, its key, the slider that walks along the readings, its description.

import { loadCharting } from "./chart_loader.js";
import { createChart } from "./chart.js";
import { chosenRadio, chooseRadio, radios } from "./fields.js";
import { byId, fill, setText } from "./dom.js";
import { watchPaper } from "./chart_theme.js";
import { createKey } from "./chart_key.js";
import { settingText, signed } from "./units.js";

/** @typedef {import("./chart.js").Scene} Scene */
/** @typedef {import("./types.js").Reading} Reading */

/**
 * @typedef {object} ChartContent
 * @property {Omit<Scene, "fromPeak">} scene
 * @property {string} description for those who do not see the chart
 * @property {import("./chart_key.js").KeyEntry[]} key
 */

export function createChartPane() {
  const plot = byId("chart-plot", HTMLElement);
  const empty = byId("chart-empty", HTMLElement);
  const key = createKey();
  const slider = createCursorSlider((reading) => chart?.point(reading));
  /** @type {import("./chart.js").Chart | null} */
  let chart = null;
  /** @type {ChartContent | null} */
  let content = null;

  const draw = () => {
    if (content === null || chart === null) return;
    chart.show({ ...content.scene, fromPeak: chosenRadio("level-scale") === "peak" });
    const bare = content.scene.curves.every(({ readings, rough }) => readings.length + rough.length === 0);
    setText(empty, bare ? "Readings appear here as they are taken." : "");
  };
  const rescale = () => {
    chart?.follow();
    draw();
    slider.repeat();
  };
  for (const radio of radios("level-scale")) radio.addEventListener("change", rescale);
  for (const button of document.querySelectorAll("[data-zoom]")) {
    const how = /** @type {"in" | "out" | "whole" | "passband"} */ (button.getAttribute("data-zoom"));
    button.addEventListener("click", () => chart?.zoom(how));
  }

  const prepare = async () => {
    try {
      chart = await createChart(await loadCharting(), byId("chart-canvas", HTMLElement));
      draw();
    } catch (error) {
      const reason = error instanceof Error ? error.message : String(error);
      setText(empty, `The chart cannot be drawn (${reason}); the figures and the table of readings are complete.`);
    }
  };
  /** @type {Promise<void> | null} */
  let preparing = null;

  const paper = byId("chart-paper", HTMLElement);
  watchPaper(
    () => fill(paper, chart?.picture()),
    () => {
      chart?.paint();
      fill(paper);
    },
  );

  return {
    /** Fetch the charting library and draw, without holding up the rest. */
    prepare: () => (preparing ??= prepare()),
    /** @param {ChartContent} next */
    show(next) {
      content = next;
      plot.setAttribute("aria-label", next.description);
      key.show(next.key);
      slider.show(next.scene.curves[0]?.readings ?? []);
      draw();
    },
    /** Another scan is in view: show all of it. */
    reset() {
      chart?.follow();
      slider.reset();
    },
    /** @param {"measured" | "peak"} scale */
    scale(scale) {
      chooseRadio("level-scale", scale);
      rescale();
    },
  };
}

/**
 * A slider over the readings in order of frequency. It tells each in words and rings it on the chart.
 * @param {(reading: Reading | null) => void} onPoint
 */
function createCursorSlider(onPoint) {
  const input = byId("cursor", HTMLInputElement);
  const text = byId("cursor-text", HTMLElement);
  /** @type {Reading[]} */
  let sorted = [];
  let used = false;

  const point = () => {
    const reading = used ? (sorted[Number(input.value)] ?? null) : null;
    const words = reading === null ? "" : readingWords(reading);
    setText(text, words);
    input.setAttribute("aria-valuetext", words === "" ? "none chosen" : words);
    onPoint(reading);
  };
  input.addEventListener("input", () => {
    used = true;
    point();
  });

  return {
    repeat: point,
    reset() {
      used = false;
      point();
    },
    /** @param {Reading[]} readings */
    show(readings) {
      const held = used ? sorted[Number(input.value)] : undefined;
      sorted = [...readings].sort((one, other) => Number(one.frequency_hz) - Number(other.frequency_hz));
      input.disabled = sorted.length === 0;
      input.max = String(Math.max(sorted.length - 1, 0));
      // New readings push the one being looked at along; the slider stays with the reading, not with its place.
      const place = held === undefined ? -1 : sorted.findIndex(({ index }) => index === held.index);
      if (place >= 0) input.value = String(place);
      point();
    },
  };
}

/** @param {Reading} reading */
function readingWords({ index, frequency_hz: hz, level_db: level, used }) {
  const where = hz === null ? "" : settingText(hz);
  const what = level === null ? "no level" : signed(level, "dB", 2);
  return `Reading ${index}: ${where}, ${what}${used ? "" : ", not used"}`;
}
