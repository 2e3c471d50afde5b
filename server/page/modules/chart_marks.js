// The marks on the chart that belong to one fit: centre, the two 3 dB points, the width between them, and nominal.

/** @typedef {import("./types.js").Result} Result */
/** @typedef {import("./chart_theme.js").Theme} Theme */

/** A response is "3 dB down" at half power: 10 log10(2). */
const HALF_POWER_DB = 3.0103;

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
    },
    /** @param {Theme} theme */
    paint(theme) {
      width.glyph.line_color = theme.mark;
      points.glyph.line_color = theme.mark;
      points.glyph.fill_color = theme.sheet;
      centre.line_color = theme.mark;
      nominal.line_color = theme.quiet;
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
 * @param {any} span
 * @param {number | null | undefined} hz
 * @param {number} unitHz
 */
function place(span, hz, unitHz) {
  const known = typeof hz === "number";
  if (known) span.location = hz / unitHz;
  span.visible = known;
}
