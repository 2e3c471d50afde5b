// How a step stands, as a shape and a word: told the same in the plan, on the step's page and in the records.

/** @typedef {import("./types.js").JobStep} JobStep */
/** @typedef {import("./types.js").Finding} Finding */

/** @typedef {{symbol: string, word: string, tone: "good" | "off" | "part" | "doubt" | "quiet" | "now"}} Standing */

/** How a step can have ended, by the words of the service. @satisfies {Record<string, Standing>} */
const ENDINGS = /** @type {const} */ ({
  "within its limits": { symbol: "done", word: "good", tone: "good" },
  "left outside its limits": { symbol: "beyond", word: "off", tone: "off" },
  "a part is suspected": { symbol: "part", word: "part suspected", tone: "part" },
  "blocked by an earlier step": { symbol: "wait", word: "blocked", tone: "off" },
  "measured, but not judged": { symbol: "half", word: "not judged", tone: "doubt" },
  "not measured": { symbol: "missing", word: "left unmeasured", tone: "doubt" },
});

/**
 * @param {JobStep} step
 * @param {boolean} isNext whether it is the next in the plan
 * @param {boolean} onBench whether a session runs it now
 * @returns {Standing}
 */
export function standingOf({ state }, isNext, onBench) {
  if (onBench) return { symbol: "running", word: "on the bench", tone: "now" };
  if (state.on) return { symbol: "half", word: "begun", tone: "now" };
  const ended = endingOf(state.ending);
  if (ended && state.undone_by.length > 0) return { symbol: "again", word: "to measure again", tone: "doubt" };
  if (ended) return ended;
  if (isNext) return { symbol: "next", word: "next", tone: "now" };
  if (state.refused.length > 0) return { symbol: "wait", word: "waits", tone: "quiet" };
  return { symbol: "open", word: "to do", tone: "quiet" };
}

/**
 * @param {string | null} ending
 * @returns {Standing | null}
 */
function endingOf(ending) {
  const known = Object.entries(ENDINGS).find(([words]) => words === ending);
  return known === undefined ? null : known[1];
}

/** The counts of a job's row in the list, in the order in which they are told. @type {readonly [string, Standing][]} */
export const COUNTS = Object.freeze([
  ["good", ENDINGS["within its limits"]],
  ["off", ENDINGS["left outside its limits"]],
  ["suspect", ENDINGS["a part is suspected"]],
  ["blocked", ENDINGS["blocked by an earlier step"]],
  ["unjudged", ENDINGS["measured, but not judged"]],
  ["unmeasured", ENDINGS["not measured"]],
]);

/** @type {Readonly<Record<string, {symbol: string, word: string}>>} */
const VERDICTS = Object.freeze({
  leave: { symbol: "done", word: "leave it" },
  "touch up": { symbol: "beyond", word: "touch up" },
  adjust: { symbol: "beyond", word: "adjust" },
  "suspect a part": { symbol: "part", word: "suspect a part" },
});

/** @param {string} verdict */
export const verdictWords = (verdict) => VERDICTS[verdict] ?? { symbol: "half", word: verdict };

/** @type {Readonly<Record<string, {symbol: string, word: string}>>} */
const STANDINGS = Object.freeze({
  "within its limit": { symbol: "done", word: "within" },
  within: { symbol: "done", word: "within" },
  "within its uncertainty of its limit": { symbol: "half", word: "too close to call" },
  "at limit": { symbol: "half", word: "too close to call" },
  "beyond its limit": { symbol: "beyond", word: "beyond" },
  beyond: { symbol: "beyond", word: "beyond" },
});

/** @param {string | null} standing */
export const limitWords = (standing) =>
  standing === null ? null : (STANDINGS[standing] ?? { symbol: "half", word: standing });

/**
 * The figure to look at first: the one furthest beyond its limit, else the first that was measured, else the first.
 * @param {Finding[]} findings
 * @returns {Finding | null}
 */
export function worst(findings) {
  const judged = findings.filter(({ limit, standing }) => limit !== null && limit !== 0 && standing !== null);
  // A negative limit is the least that a level may be; what is beyond and could not even be measured is the worst.
  const share = (/** @type {Finding} */ { value, limit }) =>
    value === null ? Infinity : limit !== null && limit < 0 ? value / limit : Math.abs(value) / Number(limit);
  if (judged.length > 0) return judged.reduce((most, each) => (share(each) > share(most) ? each : most));
  return findings.find(({ value }) => value !== null) ?? findings[0] ?? null;
}
