// The marks on the chart that belong to one fit: centre, the two 3 dB points, the width between them, and nominal.

import { frequencyText, widthText } from "../shared/units.js";

/** @typedef {import("../shared/types.js").Result} Result */
/** @typedef {import("./theme.js").Theme} Theme */

/** A response is "3 dB down" at half power: 10 log10(2). */
const HALF_POWER_DB = 3.0103;

/** About how wide a letter of the labels is. */
const LETTER_PX = 7.6;

/**
 * Add the marks to a figure; they stay unseen until `show` is given something to mark.
 * @param {any} bokeh
 * @param {any} figure
 */
export function createMarks(bokeh, figure) {
  const edges = new bokeh.ColumnDataSource({ data: { x: [], y: [] } });
  const width = figure.line({ field: "x" }, { field: "y" }, { source: edges, line_width: 2 });
  const points = figure.scatter({ field: "x" }, { field: "y" }, { source: edges, marker: "diamond", size: 15, line_width: 2 });
  const centre = new bokeh.Span({ dimension: "height", line_width: 2, line_dash: [7, 5], visible: false });
  const nominal = new bokeh.Span({ dimension: "height", line_width: 1.5, line_dash: [1, 4], visible: false });
  for (const span of [nominal, centre]) figure.add_layout(span);
  const widthLabel = label(bokeh, { text_baseline: "middle" });
  const centreLabel = label(bokeh, { y: 8, y_units: "screen", x_offset: 7, text_baseline: "bottom" });
  for (const each of [widthLabel, centreLabel]) figure.add_layout(each);

  return {
    /**
     * @param {Result | null} result
     * @param {number | null} nominalHz
     * @param {number} unitHz
     * @param {number} referenceDb the level that is drawn as zero
     */
    show(result, nominalHz, unitHz, referenceDb) {
      edges.data = edgePoints(result, unitHz, referenceDb);
      place(centre, result?.centre_hz, unitHz);
      place(nominal, nominalHz, unitHz);
      placeWidth(widthLabel, result, edges.data, figure);
      placeCentre(centreLabel, result, unitHz, figure);
    },
    /** @param {Theme} theme */
    paint(theme) {
      width.glyph.line_color = theme.mark;
      points.glyph.line_color = theme.mark;
      points.glyph.fill_color = theme.sheet;
      centre.line_color = theme.mark;
      nominal.line_color = theme.quiet;
      for (const each of [widthLabel, centreLabel]) {
        each.setv({ text_color: theme.mark, text_font: theme.font, background_fill_color: theme.sheet });
      }
    },
  };
}

/**
 * @param {Result | null} result
 * @param {number} unitHz
 * @param {number} referenceDb
 */
function edgePoints(result, unitHz, referenceDb) {
  const { lower_3db_hz: lower, upper_3db_hz: upper, peak_level_db: peak } = result ?? {};
  if (typeof peak !== "number") return { x: [], y: [] };
  const known = [lower, upper].filter((hz) => typeof hz === "number");
  return { x: known.map((hz) => Number(hz) / unitHz), y: known.map(() => peak - HALF_POWER_DB - referenceDb) };
}

/**
 * @param {any} bokeh
 * @param {object} options
 */
function label(bokeh, options) {
  return new bokeh.Label({ x: 0, y: 0, text: "", visible: false, text_font_size: "14px", background_fill_alpha: 0.8, ...options });
}

/**
 * The width stands outside a 3 dB point: the response falls away there.
 * @param {any} text
 * @param {Result | null} result
 * @param {{x: number[], y: number[]}} edges
 * @param {any} figure
 */
function placeWidth(text, result, edges, figure) {
  const [left, right] = edges.x;
  const known = left !== undefined && right !== undefined && typeof result?.width_3db_hz === "number";
  if (known) {
    const words = widthText(result.width_3db_hz, result.width_3db_sigma_hz);
    put(text, words, { left, right, gap: 14 }, figure);
    text.y = edges.y[0];
  } else text.visible = false;
}

/**
 * The centre stands at the foot of its line.
 * @param {any} text
 * @param {Result | null} result
 * @param {number} unitHz
 * @param {any} figure
 */
function placeCentre(text, result, unitHz, figure) {
  const known = typeof result?.centre_hz === "number";
  if (known) {
    const x = Number(result.centre_hz) / unitHz;
    put(text, frequencyText(result.centre_hz, result.centre_sigma_hz), { left: x, right: x, gap: 7 }, figure);
  } else text.visible = false;
}

/**
 * Put a text beside a place, on the right if it fits there, else on the left, else nowhere: the figures below hold it.
 * @param {any} text
 * @param {string} words
 * @param {{left: number, right: number, gap: number}} place
 * @param {any} figure
 */
function put(text, words, { left, right, gap }, figure) {
  const range = figure.x_range;
  const pixels = figure.inner_width / (range.end - range.start);
  const need = words.length * LETTER_PX + gap;
  const rightwards = (range.end - right) * pixels > need;
  text.visible = rightwards || (left - range.start) * pixels > need;
  text.setv({ x: rightwards ? right : left, x_offset: rightwards ? gap : -gap, text_align: rightwards ? "left" : "right", text: words });
}

/**
 * @param {any} span
 * @param {number | null | undefined} hz
 * @param {number} unitHz
 */
function place(span, hz, unitHz) {
  const known = typeof hz === "number";
  if (known) span.location = hz / unitHz;
  span.visible = known;
}
