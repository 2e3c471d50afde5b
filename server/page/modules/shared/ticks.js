// Where the ticks of a drawn axis stand: round values, a step of one, two or five apart.

const STEPS = Object.freeze([1, 2, 5, 10]);

/**
 * @param {number[]} ends the least and the greatest value of the axis
 * @param {number} most how many there is room for
 * @returns {number[]}
 */
export function ticksBetween([low = 0, high = 1], most) {
  const least = (high - low) / Math.max(most, 1);
  const size = 10 ** Math.floor(Math.log10(least));
  const step = (STEPS.find((each) => each * size >= least) ?? 10) * size;
  const first = Math.ceil(low / step);
  const count = Math.floor(high / step) - first + 1;
  return Array.from({ length: Math.max(count, 0) }, (_, index) => (first + index) * step);
}
