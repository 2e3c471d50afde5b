// The figures of a step as its page and its row of the plan tell them.

/** @typedef {import("./types.js").Figure} Figure */
/** @typedef {import("./types.js").Finding} Finding */
/** @typedef {import("./types.js").StepState} StepState */

/**
 * Each figure as found beside the same as left; those with a limit first.
 * @param {StepState} state
 * @returns {Figure[]}
 */
export function rowsOf({ figures }) {
  const rank = (/** @type {Figure} */ { found, left }) => ((left ?? found)?.limit === null ? 1 : 0);
  return [...figures].sort((one, other) => rank(one) - rank(other));
}

/**
 * The figures of one time alone.
 * @param {StepState} state
 * @param {"found" | "left"} when
 * @returns {Finding[]}
 */
export const figuresOf = ({ figures }, when) =>
  figures.flatMap(({ [when]: finding }) => (finding === null ? [] : [finding]));
