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
  if (question !== null) return answerOf(question.answers);
  if (guidance === null || guidance.word === "wait") return { kind: "nothing" };
  if (guidance.gauge === "step and fit" && guidance.word !== "done") return { kind: "signal", signal: "step" };
  return isWithin(guidance) || sure ? { kind: "signal", signal: "done" } : { kind: "sure" };
}

/**
 * @param {string[]} answers
 * @returns {Meaning}
 */
function answerOf(answers) {
  if (answers.includes("done")) return { kind: "answer", answer: "done" };
  const [only, ...others] = answers;
  return only !== undefined && others.length === 0 ? { kind: "answer", answer: only } : { kind: "choose" };
}
