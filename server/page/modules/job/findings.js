// What a step found and what it left, put together from its runs.

/** @typedef {import("./types.js").Finding} Finding */
/** @typedef {import("./types.js").StepState} StepState */

/** @typedef {{name: string, where: string, found: Finding | null, left: Finding | null}} Row */

/**
 * How a step stands after it was adjusted. Some figures show only while an adjuster is turned: where the run as left
 * could not measure one, what the adjusting told of it stands.
 * @param {StepState} state
 * @returns {Finding[]}
 */
export function leftFindings({ as_left: left, adjusted }) {
  const told = adjusted.filter(({ value, when }) => value !== null && when !== "as found");
  const measured = new Set(left.filter(({ value }) => value !== null).map(keyOf));
  const fill = told.filter((finding) => !measured.has(keyOf(finding)));
  const filled = new Set(fill.map(keyOf));
  return [...left.filter((finding) => !filled.has(keyOf(finding))), ...fill];
}

/**
 * Each figure as found beside the same as left; those with a limit first.
 * @param {StepState} state
 * @returns {Row[]}
 */
export function rowsOf(state) {
  /** @type {Map<string, Row>} */
  const rows = new Map();
  const row = (/** @type {Finding} */ finding) => {
    const known = rows.get(keyOf(finding)) ?? { name: finding.name, where: finding.where, found: null, left: null };
    rows.set(keyOf(finding), known);
    return known;
  };
  for (const finding of state.as_found) row(finding).found = finding;
  for (const finding of leftFindings(state)) row(finding).left = finding;
  const rank = (/** @type {Row} */ { found, left }) => ((left ?? found)?.limit === null ? 1 : 0);
  return [...rows.values()].sort((one, other) => rank(one) - rank(other));
}

/** @param {Finding} finding */
const keyOf = (finding) => `${finding.name}\n${finding.where}`;
