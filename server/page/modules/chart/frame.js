// What part of the sweep the chart shows.

/** @typedef {import("./curve.js").Curve} Curve */
/** @typedef {{x: [number, number], y: [number, number]}} Frame */

const LEAST_HEIGHT_DB = 6;
const MARGIN = 0.06;

/**
 * The frame that holds everything drawn.
 * @param {Curve[]} curves
 * @param {[number, number] | null} edgesHz the range that was asked for
 * @param {number} unitHz
 * @param {number[]} referencesDb the level drawn as zero, for each curve
 * @returns {Frame}
 */
export function wholeFrame(curves, edgesHz, unitHz, referencesDb) {
  const xs = edgesHz === null ? [] : edgesHz.map((hz) => hz / unitHz);
  /** @type {number[]} */
  const ys = [];
  curves.forEach(({ readings, rough, result }, index) => {
    const reference = referencesDb[index] ?? 0;
    for (const reading of [...readings, ...rough]) {
      xs.push(Number(reading.frequency_hz) / unitHz);
      ys.push(Number(reading.level_db) - reference);
    }
    if (readings.length === 0) for (const db of result?.curve?.level_db ?? []) ys.push(db - reference);
    if (typeof result?.peak_level_db === "number") ys.push(result.peak_level_db - reference);
  });
  return { x: padded(xs, 0.02, 0, [0, 1]), y: padded(ys, MARGIN, LEAST_HEIGHT_DB, [-40, 3]) };
}

/**
 * The frame around the outermost 3 dB points of the first curve, or null where it has none.
 * @param {Curve | undefined} curve
 * @param {number} unitHz
 * @param {number} referenceDb
 * @returns {Frame | null}
 */
export function passbandFrame(curve, unitHz, referenceDb) {
  const { lower_3db_hz: lower, upper_3db_hz: upper, peak_level_db: peak } = curve?.result ?? {};
  if (typeof lower !== "number" || typeof upper !== "number" || typeof peak !== "number") return null;
  const margin = (upper - lower) * 0.75;
  const top = peak - referenceDb;
  return { x: [(lower - margin) / unitHz, (upper + margin) / unitHz], y: [top - 12, top + 1.5] };
}

/**
 * The frame made larger or smaller about its middle, in frequency and level alike.
 * @param {Frame} frame
 * @param {number} factor
 * @returns {Frame}
 */
export function scaled({ x, y }, factor) {
  return { x: about(x, factor), y: about(y, factor) };
}

/**
 * @param {[number, number]} range
 * @param {number} factor
 * @returns {[number, number]}
 */
function about([low, high], factor) {
  const middle = (low + high) / 2;
  const half = ((high - low) / 2) * factor;
  return [middle - half, middle + half];
}

/**
 * @param {number[]} values
 * @param {number} share of the extent, added at each end
 * @param {number} least extent
 * @param {[number, number]} otherwise where there is nothing to hold
 * @returns {[number, number]}
 */
function padded(values, share, least, otherwise) {
  if (values.length === 0) return otherwise;
  let low = Infinity;
  let high = -Infinity;
  for (const value of values) {
    low = Math.min(low, value);
    high = Math.max(high, value);
  }
  const lacking = Math.max(0, least - (high - low)) / 2;
  const margin = (high - low) * share + lacking;
  return [low - margin, high + margin];
}
