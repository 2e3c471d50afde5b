// The chart: level against frequency, readings as they come, fits over them. It draws what it is given.

import { createCurve } from "./curve.js";
import { passbandFrame, scaled, wholeFrame } from "./frame.js";
import { createMarks } from "./marks.js";
import { CURVE_STYLES, readTheme, watchTheme } from "./theme.js";
import { UNITS, unitOfFrequency } from "../shared/units.js";

/** @typedef {import("./curve.js").Curve} Curve */
/** @typedef {import("../shared/types.js").Reading} Reading */

/**
 * @typedef {object} Scene
 * @property {Curve[]} curves the first is the scan in view, the others lie over it
 * @property {[number, number] | null} edgesHz
 * @property {number | null} nominalHz
 * @property {boolean} fromPeak draw each curve's own peak as zero
 */

/** How far above the foot of the chart, as a share of its height, a reading without a level is marked. */
const FLOOR = 0.03;

/** What part of what is seen one step of zoom leaves. */
const ZOOM_STEP = 0.6;

/** @type {Scene} */
const EMPTY = Object.freeze({ curves: [], edgesHz: null, nominalHz: null, fromPeak: false });

export class Chart {
  #figure;
  #x;
  #y;
  #pan;
  #curves;
  #marks;
  #cursor;
  #drawing;
  /** @type {Scene} */
  #scene = EMPTY;
  #zoomed = false;
  #due = false;

  /**
   * Draw an empty chart inside an element.
   * @param {any} bokeh the charting library
   * @param {HTMLElement} host
   * @returns {Promise<Chart>}
   */
  static async inside(bokeh, host) {
    const made = makeFigure(bokeh);
    // Made last to first, so that the scan in view lies on top of those it is compared with.
    const curves = CURVE_STYLES.map((_, place) => CURVE_STYLES.length - 1 - place)
      .map((place) => createCurve(bokeh, made.figure, place))
      .reverse();
    const parts = { curves, marks: createMarks(bokeh, made.figure), cursor: createCursor(bokeh, made.figure) };
    paintAll(made.figure, [...curves, parts.marks, parts.cursor]);
    const drawing = await bokeh.Plotting.show(made.figure, host);
    leaveTabOrder(host);
    return new Chart(made, parts, drawing);
  }

  /**
   * @param {ReturnType<typeof makeFigure>} made
   * @param {{curves: ReturnType<typeof createCurve>[], marks: ReturnType<typeof createMarks>, cursor: ReturnType<typeof createCursor>}} parts
   * @param {any} drawing the figure as the library draws it
   */
  constructor({ figure, x, y, pan }, { curves, marks, cursor }, drawing) {
    this.#figure = figure;
    this.#x = x;
    this.#y = y;
    this.#pan = pan;
    this.#curves = curves;
    this.#marks = marks;
    this.#cursor = cursor;
    this.#drawing = drawing;
    watchTheme(() => this.paint());
  }

  /**
   * Draw this, at the next frame; many calls before it cost one drawing.
   * @param {Scene} next
   */
  show(next) {
    this.#scene = next;
    if (this.#due) return;
    this.#due = true;
    requestAnimationFrame(() => this.#draw());
  }

  /**
   * Ring one reading of the first curve, or none.
   * @param {Reading | null} reading
   */
  point(reading) {
    this.#cursor.show(reading, this.#unitHz, references(this.#scene)[0] ?? 0);
  }

  /** @param {"in" | "out" | "whole" | "passband"} how */
  zoom(how) {
    const { curves } = this.#scene;
    this.#zoomed = how !== "whole";
    if (how === "in") this.#look(scaled(this.#now, ZOOM_STEP));
    else if (how === "out") this.#look(scaled(this.#now, 1 / ZOOM_STEP));
    else {
      const passband = how === "passband" ? passbandFrame(curves[0], this.#unitHz, references(this.#scene)[0] ?? 0) : null;
      this.#look(passband ?? this.#whole());
    }
    // A finger on the whole chart scrolls the page; on a part of it, it moves the part.
    this.#figure.toolbar.active_drag = this.#zoomed || matchMedia("(pointer: fine)").matches ? this.#pan : null;
  }

  /** Show the whole again, and follow what comes. */
  follow() {
    this.#zoomed = false;
  }

  /** Take the page's colours. */
  paint() {
    paintAll(this.#figure, [...this.#curves, this.#marks, this.#cursor]);
  }

  /**
   * The chart as it stands, drawn at once and as lines, for paper.
   * @returns {SVGSVGElement}
   */
  picture() {
    this.paint();
    const svg = this.#drawing.export("svg").ctx.get_svg();
    svg.setAttribute("viewBox", `0 0 ${svg.getAttribute("width")} ${svg.getAttribute("height")}`);
    return svg;
  }

  get #unitHz() {
    return unitOfScene(this.#scene).hz;
  }

  /** @returns {import("./frame.js").Frame} */
  get #now() {
    return { x: [this.#x.start, this.#x.end], y: [this.#y.start, this.#y.end] };
  }

  #whole() {
    return wholeFrame(this.#scene.curves, this.#scene.edgesHz, this.#unitHz, references(this.#scene));
  }

  /** @param {import("./frame.js").Frame} frame */
  #look({ x, y }) {
    this.#x.setv({ start: x[0], end: x[1] });
    this.#y.setv({ start: y[0], end: y[1] });
  }

  #draw() {
    this.#due = false;
    const { curves, nominalHz, fromPeak } = this.#scene;
    const zero = references(this.#scene);
    const unitHz = this.#unitHz;
    this.#figure.below[0].axis_label = `Frequency, ${unitOfScene(this.#scene).name}`;
    this.#figure.left[0].axis_label = fromPeak ? "Level from the peak, dB" : "Level, dB";
    if (!this.#zoomed) this.#look(this.#whole());
    const floor = this.#y.start + (this.#y.end - this.#y.start) * FLOOR;
    this.#curves.forEach((curve, place) => curve.show(curves[place] ?? null, unitHz, zero[place] ?? 0, floor));
    this.#marks.show(curves[0]?.result ?? null, nominalHz, unitHz, zero[0] ?? 0);
  }
}

/**
 * The library lets its drawing take the focus, where no key does anything. The slider under the chart is for keys.
 * @param {ParentNode} root
 */
function leaveTabOrder(root) {
  for (const element of root.querySelectorAll("*")) {
    if (element instanceof HTMLElement && element.tabIndex >= 0) element.tabIndex = -1;
    if (element.shadowRoot) leaveTabOrder(element.shadowRoot);
  }
}

/** @param {any} bokeh */
function makeFigure(bokeh) {
  const x = new bokeh.Range1d({ start: 0, end: 1 });
  const y = new bokeh.Range1d({ start: -40, end: 3 });
  const pan = new bokeh.PanTool();
  const figure = bokeh.Plotting.figure({
    x_range: x,
    y_range: y,
    tools: [pan],
    toolbar_location: null,
    sizing_mode: "stretch_both",
    min_border_right: 16,
    min_border_top: 10,
  });
  figure.toolbar.active_drag = matchMedia("(pointer: fine)").matches ? pan : null;
  figure.below[0].formatter = new bokeh.BasicTickFormatter({ use_scientific: false });
  return { figure, x, y, pan };
}

/**
 * @param {any} bokeh
 * @param {any} figure
 */
function createCursor(bokeh, figure) {
  const source = new bokeh.ColumnDataSource({ data: { x: [], y: [] } });
  const ring = figure.scatter({ field: "x" }, { field: "y" }, { source, marker: "circle", size: 20, line_width: 3, fill_alpha: 0 });
  return {
    /**
     * @param {Reading | null} reading
     * @param {number} unitHz
     * @param {number} referenceDb
     */
    show(reading, unitHz, referenceDb) {
      const seen = reading !== null && reading.level_db !== null && reading.frequency_hz !== null;
      source.data = seen
        ? { x: [Number(reading.frequency_hz) / unitHz], y: [Number(reading.level_db) - referenceDb] }
        : { x: [], y: [] };
    },
    /** @param {import("./theme.js").Theme} theme */
    paint(theme) {
      ring.glyph.line_color = theme.ink;
    },
  };
}

/**
 * @param {any} figure
 * @param {{paint: (theme: import("./theme.js").Theme) => void}[]} parts
 */
function paintAll(figure, parts) {
  const theme = readTheme();
  figure.background_fill_color = theme.sheet;
  figure.border_fill_color = theme.sheet;
  figure.outline_line_color = theme.grid;
  for (const axis of [figure.below[0], figure.left[0]]) {
    axis.setv({
      axis_line_color: theme.quiet,
      major_tick_line_color: theme.quiet,
      minor_tick_line_color: null,
      major_label_text_color: theme.ink,
      major_label_text_font: theme.font,
      major_label_text_font_size: "14px",
      axis_label_text_color: theme.quiet,
      axis_label_text_font: theme.font,
      axis_label_text_font_size: "14px",
      axis_label_text_font_style: "normal",
    });
  }
  for (const grid of figure.center.filter((/** @type {any} */ each) => "grid_line_color" in each)) grid.grid_line_color = theme.grid;
  for (const part of parts) part.paint(theme);
}

/**
 * The level that each curve draws as zero.
 * @param {Scene} scene
 * @returns {number[]}
 */
function references({ curves, fromPeak }) {
  return curves.map(({ readings, rough, result }) => {
    if (!fromPeak) return 0;
    if (typeof result?.peak_level_db === "number") return result.peak_level_db;
    return [...readings, ...rough].reduce((highest, { level_db: level }) => Math.max(highest, Number(level)), -Infinity);
  }).map((level) => (Number.isFinite(level) ? level : 0));
}

/** @param {Scene} scene */
function unitOfScene({ edgesHz, curves }) {
  if (edgesHz !== null) return unitOfFrequency(edgesHz[1]);
  const first = curves[0]?.readings[0]?.frequency_hz;
  return typeof first === "number" ? unitOfFrequency(first) : UNITS.kHz;
}
