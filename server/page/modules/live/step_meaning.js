// What a press of the step key means, as things stand. Pure.

import { isWithin } from "./ear.js";

/** @typedef {import("./types.js").Guidance} Guidance */
/** @typedef {import("./types.js").Question} Question */

/**
 * `choose`: the question has several answers, and a key cannot tell which. `sure`: finishing so far off wants a second press.
 * @typedef {{kind: "answer", answer: string} | {kind: "signal", signal: import("./types.js").Signal}
 *   | {kind: "choose"} | {kind: "sure"} | {kind: "nothing"}} Meaning
 */

/**
 * @param {Question | null} question
 * @param {Guidance | null} guidance
 * @param {boolean} sure whether the person has just been asked to be sure
 * @returns {Meaning}
 */
export function meaningOf(question, guidance, sure) {
  if (question !== null) return answerOf(question);
  if (guidance === null || guidance.word === "wait") return { kind: "nothing" };
  if (guidance.gauge === "step and fit" && guidance.word !== "done") return { kind: "signal", signal: "step" };
  return isWithin(guidance) || sure ? { kind: "signal", signal: "done" } : { kind: "sure" };
}

/**
 * What is asked of the hands has its deed as the first answer; a choice must be made by eye.
 * @param {Question} question
 * @returns {Meaning}
 */
function answerOf({ action, answers }) {
  const [first] = answers;
  return action === "choose" || first === undefined ? { kind: "choose" } : { kind: "answer", answer: first };
}
