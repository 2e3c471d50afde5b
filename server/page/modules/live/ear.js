// What the ear is told: the error as a multiple of the good zone, whatever the gauge.

/** @typedef {import("./types.js").Guidance} Guidance */

/** Where no limit is given, this part of the needle's first full scale stands for the good zone. */
const PART_OF_SCALE = 1 / 20;

/** A peak that has not been passed yet cannot be told from a slope: the best so far sounds no nearer than this. */
const NOT_PASSED = 3;

/** How low a climb begins. */
const CLIMB_FROM = 60;

/** A climb of so many decibels, or so many good zones of another unit, brings the tone ten times nearer. */
const TENFOLD_DB = 12;
const TENFOLD_ZONES = 40;

export class Ear {
  #adjuster = "";
  #zone = 1;
  /** @type {number | null} */
  #firstValue = null;

  /**
   * How far off, in good zones: signed where the gauge knows the side, negative on the way to a peak.
   * @param {Guidance} guidance
   * @returns {number | null} null where there is nothing to hear
   */
  hear(guidance) {
    if (guidance.adjuster !== this.#adjuster) this.#begin(guidance);
    if (guidance.within !== null && guidance.within > 0) this.#zone = guidance.within;
    if (guidance.error !== null) return guidance.error / this.#zone;
    if (guidance.value === null || guidance.below_best === null) return null;
    return -this.#belowPeak(guidance.unit, guidance.value, guidance.below_best);
  }

  /** Forget the adjuster: the next one begins anew. */
  forget() {
    this.#adjuster = "";
  }

  /** @param {Guidance} guidance */
  #begin({ adjuster, full_scale: fullScale, value }) {
    this.#adjuster = adjuster;
    // Held for as long as the adjuster is the same: a needle that changes its scale must not change the pitch.
    this.#zone = fullScale > 0 ? fullScale * PART_OF_SCALE : 1;
    this.#firstValue = value;
  }

  /**
   * Before the peak has been passed: nearer with each new best, and lower again by what has been lost of it.
   * @param {string} unit
   * @param {number} value
   * @param {number} belowBest
   */
  #belowPeak(unit, value, belowBest) {
    this.#firstValue ??= value;
    const tenfold = unit === "dB" ? TENFOLD_DB : TENFOLD_ZONES * this.#zone;
    const best = value + belowBest;
    return Math.max(CLIMB_FROM * 10 ** ((this.#firstValue - best) / tenfold), NOT_PASSED) + belowBest / this.#zone;
  }
}

/**
 * Whether the reading stands in the good zone.
 * @param {Guidance} guidance
 * @returns {boolean}
 */
export function isWithin({ error, within, word }) {
  if (word === "hold" || word === "done") return true;
  return error !== null && within !== null && Math.abs(error) <= within;
}
