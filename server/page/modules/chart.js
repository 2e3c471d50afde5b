// The chart: level against frequency, readings as they come, fits over them. It draws what it is given.

import { createCurve } from "./chart_curve.js";
import { passbandFrame, scaled, wholeFrame } from "./chart_frame.js";
import { createMarks } from "./chart_marks.js";
import { CURVE_STYLES, readTheme, watchTheme } from "./chart_theme.js";
import { UNITS, unitOfFrequency } from "./units.js";

/** @typedef {import("./chart_curve.js").Curve} Curve */
/** @typedef {import("./types.js").Reading} Reading */

/**
 * @typedef {object} Scene
 * @property {Curve[]} curves the first is the scan in view, the others lie over it
 * @property {[number, number] | null} edgesHz
 * @property {number | null} nominalHz
 * @property {boolean} fromPeak draw each curve's own peak as zero
 */

/** How far above the foot of the chart, as a share of its height, a reading without a level is marked. */
const FLOOR = 0.03;

/** @type {Scene} */
const EMPTY = Object.freeze({ curves: [], edgesHz: null, nominalHz: null, fromPeak: false });

/**
 * Make the chart inside an element.
 * @param {any} bokeh the charting library
 * @param {HTMLElement} host
 */
export async function createChart(bokeh, host) {
  const { figure, x, y, pan } = makeFigure(bokeh);
  // Made last to first, so that the scan in view lies on top of those it is compared with.
  const curves = CURVE_STYLES.map((_, place) => CURVE_STYLES.length - 1 - place)
    .map((place) => createCurve(bokeh, figure, place))
    .reverse();
  const marks = createMarks(bokeh, figure);
  const cursor = createCursor(bokeh, figure);
  /** @type {Scene} */
  let scene = EMPTY;
  let zoomed = false;
  let due = false;

  const unitHz = () => unitOfScene(scene).hz;

  const frame = () => wholeFrame(scene.curves, scene.edgesHz, unitHz(), references(scene));

  /** @param {import("./chart_frame.js").Frame} wanted */
  const look = (wanted) => {
    x.setv({ start: wanted.x[0], end: wanted.x[1] });
    y.setv({ start: wanted.y[0], end: wanted.y[1] });
  };

  const draw = () => {
    due = false;
    const zero = references(scene);
    figure.below[0].axis_label = `Frequency, ${unitOfScene(scene).name}`;
    figure.left[0].axis_label = scene.fromPeak ? "Level from the peak, dB" : "Level, dB";
    if (!zoomed) look(frame());
    const floor = y.start + (y.end - y.start) * FLOOR;
    curves.forEach((curve, place) => curve.show(scene.curves[place] ?? null, unitHz(), zero[place] ?? 0, floor));
    marks.show(scene.curves[0]?.result ?? null, scene.nominalHz, unitHz(), zero[0] ?? 0);
  };

  const paint = () => paintAll(figure, [...curves, marks, cursor]);
  paint();
  watchTheme(paint);
  const drawing = await bokeh.Plotting.show(figure, host);
  leaveTabOrder(host);

  return {
    /**
     * Draw this, at the next frame; many calls before it cost one drawing.
     * @param {Scene} next
     */
    show(next) {
      scene = next;
      if (due) return;
      due = true;
      requestAnimationFrame(draw);
    },
    /**
     * Ring one reading of the first curve, or none.
     * @param {Reading | null} reading
     */
    point(reading) {
      cursor.show(reading, unitHz(), references(scene)[0] ?? 0);
    },
    /**
     * @param {"in" | "out" | "whole" | "passband"} how
     */
    zoom(how) {
      const now = { x: /** @type {[number, number]} */ ([x.start, x.end]), y: /** @type {[number, number]} */ ([y.start, y.end]) };
      zoomed = how !== "whole";
      if (how === "in") look(scaled(now, 0.6));
      else if (how === "out") look(scaled(now, 1 / 0.6));
      else look((how === "passband" && passbandFrame(scene.curves[0], unitHz(), references(scene)[0] ?? 0)) || frame());
      // A finger on the whole chart scrolls the page; on a part of it, it moves the part.
      figure.toolbar.active_drag = zoomed || matchMedia("(pointer: fine)").matches ? pan : null;
    },
    /**
     * The chart as it stands, drawn at once and as lines, for paper.
     * @returns {SVGSVGElement}
     */
    picture() {
      paint();
      const svg = drawing.export("svg").ctx.get_svg();
      svg.setAttribute("viewBox", `0 0 ${svg.getAttribute("width")} ${svg.getAttribute("height")}`);
      return svg;
    },
    paint,
    /** Show the whole again, and follow what comes. */
    follow() {
      zoomed = false;
    },
  };
}

/** @typedef {Awaited<ReturnType<typeof createChart>>} Chart */

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
    /** @param {import("./chart_theme.js").Theme} theme */
    paint(theme) {
      ring.glyph.line_color = theme.ink;
    },
  };
}

/**
 * @param {any} figure
 * @param {{paint: (theme: import("./chart_theme.js").Theme) => void}[]} parts
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
