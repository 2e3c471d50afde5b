// One curve on the chart: its readings, those set aside, its fit and the band of the fit's uncertainty.

import { NORMAL_95 } from "../shared/units.js";
import { CURVE_STYLES } from "./theme.js";

/** @typedef {import("../shared/types.js").Reading} Reading */
/** @typedef {import("../shared/types.js").Result} Result */
/** @typedef {import("./theme.js").Theme} Theme */

/**
 * @typedef {object} Curve
 * @property {Reading[]} readings those with a level and a frequency
 * @property {Reading[]} silent those that gave no level
 * @property {Reading[]} rough those of a first look, before the detector's law is known
 * @property {Result | null} result
 */

/** From here on markers shrink, so that a dense sweep stays readable. */
const DENSE = 150;

/** From here on they are plain dots, which are drawn in less time. */
const CROWDED = 1000;

/**
 * @param {any} bokeh
 * @param {any} figure
 * @param {number} place which of the curve styles it wears
 */
export function createCurve(bokeh, figure, place) {
  const { sources, glyphs } = layers(bokeh, figure, CURVE_STYLES[place] ?? CURVE_STYLES[0]);
  const { fit, taken, aside, rough } = sources;
  const { band, line, points, dots, crosses } = glyphs;
  let colour = "";
  let sheet = "";
  let crowded = false;
  const dress = () =>
    points.glyph.setv(crowded ? { line_color: null, fill_color: colour } : { line_color: colour, fill_color: sheet });

  return {
    /**
     * @param {Curve | null} curve
     * @param {number} unitHz
     * @param {number} referenceDb
     * @param {number} floorDb where readings without a level are marked
     */
    show(curve, unitHz, referenceDb, floorDb) {
      const readings = curve?.readings ?? [];
      const [used, unused] = [true, false].map((wanted) => readings.filter((each) => Boolean(each.used) === wanted));
      taken.data = pointsOf(used ?? [], unitHz, referenceDb);
      const { x, y } = pointsOf(unused ?? [], unitHz, referenceDb);
      const silent = (curve?.silent ?? []).map((reading) => Number(reading.frequency_hz) / unitHz);
      aside.data = { x: [...x, ...silent], y: [...y, ...silent.map(() => floorDb)] };
      rough.data = pointsOf(curve?.rough ?? [], unitHz, referenceDb);
      points.glyph.size = readings.length > DENSE ? 4 : 8;
      if (readings.length > CROWDED !== crowded) {
        crowded = !crowded;
        dress();
      }
      fit.data = fitOf(curve?.result ?? null, unitHz, referenceDb);
    },
    /** @param {Theme} theme */
    paint(theme) {
      colour = theme.curves[place] ?? theme.ink;
      sheet = theme.sheet;
      dress();
      line.glyph.line_color = colour;
      band.glyph.fill_color = colour;
      crosses.glyph.line_color = theme.quiet;
      dots.glyph.fill_color = theme.quiet;
    },
  };
}

/**
 * What the curve is drawn with, from the band at the bottom to the crosses on top.
 * @param {any} bokeh
 * @param {any} figure
 * @param {import("./theme.js").CurveStyle | undefined} style
 */
function layers(bokeh, figure, style) {
  const source = (/** @type {object} */ data) => new bokeh.ColumnDataSource({ data });
  const fit = source({ x: [], y: [], low: [], high: [] });
  const taken = source({ x: [], y: [] });
  const aside = source({ x: [], y: [] });
  const rough = source({ x: [], y: [] });
  const at = { x: { field: "x" }, y: { field: "y" } };
  const band = figure.varea({ field: "x" }, { field: "low" }, { field: "high" }, { source: fit, fill_alpha: 0.22 });
  const line = figure.line(at.x, at.y, { source: fit, line_width: 2.5, line_dash: style?.dash ?? [] });
  const points = figure.scatter(at.x, at.y, { source: taken, marker: style?.marker, size: 8, line_width: 1.6 });
  const dots = figure.scatter(at.x, at.y, { source: rough, marker: "circle", size: 6, line_width: 0 });
  const crosses = figure.scatter(at.x, at.y, { source: aside, marker: "x", size: 9, line_width: 2 });
  return { sources: { fit, taken, aside, rough }, glyphs: { band, line, points, dots, crosses } };
}

/**
 * @param {Reading[]} readings
 * @param {number} unitHz
 * @param {number} referenceDb
 */
function pointsOf(readings, unitHz, referenceDb) {
  return {
    x: readings.map((reading) => Number(reading.frequency_hz) / unitHz),
    y: readings.map((reading) => Number(reading.level_db) - referenceDb),
  };
}

/**
 * @param {Result | null} result
 * @param {number} unitHz
 * @param {number} referenceDb
 */
function fitOf(result, unitHz, referenceDb) {
  const curve = result?.curve;
  if (!curve) return { x: [], y: [], low: [], high: [] };
  const level = curve.level_db.map((db) => db - referenceDb);
  const sigma = (/** @type {number} */ index) => curve.sigma_db?.[index] ?? 0;
  return {
    x: curve.frequency_hz.map((hz) => hz / unitHz),
    y: level,
    low: level.map((db, index) => db - NORMAL_95 * sigma(index)),
    high: level.map((db, index) => db + NORMAL_95 * sigma(index)),
  };
}
