// From an error to a tone. Pure: numbers in, numbers out.
//
// Two tones sound. One is the reference and never moves. The other stands above it where the error is positive, below it
// where it is negative, and meets it where the error is nothing. Far off they are two notes; nearer they grow rough;
// near the target they beat, slower and slower, down to a beat that takes many seconds: there is no dead zone.

/** The beat at the edge of the good zone is a little over three hertz: slow enough to be counted. */
const SLOPE_HZ = 3.2;

/** What sets two notes apart far from the target: half a kilohertz at ten thousand times the good zone. */
const SPREAD_HZ = 0.5;

/** Errors beyond so many good zones all sound the same. */
const FARTHEST = 1e6;

/**
 * How far the error tone stands from the reference.
 *
 * With u = asinh(error / within): 3.2 u + 0.5 u³. Linear near nothing, and flatter and flatter from there: the slope
 * falls everywhere, so a figure counts the more the nearer it is.
 * @param {number} ratio the error over half the width of the good zone, without its sign
 * @returns {number} hertz
 */
export function beatHz(ratio) {
  const zones = Math.asinh(Math.min(Math.abs(ratio), FARTHEST));
  return SLOPE_HZ * zones + SPREAD_HZ * zones ** 3;
}

/**
 * The error tone. Below the reference it mirrors in pitch what it is above: as many semitones either way.
 * @param {number} ratio the error over half the width of the good zone, signed
 * @param {number} referenceHz
 * @returns {number} hertz
 */
export function errorToneHz(ratio, referenceHz) {
  const above = referenceHz + beatHz(ratio);
  return ratio >= 0 ? above : (referenceHz * referenceHz) / above;
}
