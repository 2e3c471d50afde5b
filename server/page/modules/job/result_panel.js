// What a step came to: each figure as found and as left with its limit and verdict, what was turned, advice, doubts.

import { make, symbol } from "../shared/dom.js";
import { Slot } from "../shared/slot.js";
import { findingText, limitKey, limitPicture, limitText, turnsText } from "./figures.js";
import { limitWords, verdictWords } from "./standing.js";

/** @typedef {import("./types.js").JobStep} JobStep */
/** @typedef {import("./types.js").Finding} Finding */
/** @typedef {import("./types.js").StepState} StepState */

/** @typedef {{name: string, where: string, found: Finding | null, left: Finding | null}} Row */

export class ResultPanel {
  #slot = new Slot(make("section", { class: "sheet step-result", "aria-labelledby": "step-result-title", hidden: true }));

  get element() {
    return this.#slot.element;
  }

  /** @param {JobStep} step */
  show({ state }) {
    const { as_found: found, as_left: left, adjusted, turned, advice, doubts, reason } = state;
    this.element.hidden = found.length + left.length + adjusted.length + turned.length + advice.length + doubts.length === 0 && reason === null;
    this.#slot.show([found, left, adjusted, turned, advice, doubts, reason], () => parts(state));
  }
}

/** @param {StepState} state */
function parts(state) {
  const rows = rowsOf(state.as_found, state.as_left.length > 0 ? state.as_left : state.adjusted);
  return [
    make("div", { class: "plan__head" }, make("h2", { id: "step-result-title" }, "Result"), rows.length > 0 && limitKey()),
    state.reason !== null && make("p", { class: "reason" }, state.reason),
    rows.length > 0 && table(rows, state.as_left.length === 0 && state.adjusted.length > 0),
    sentences(rows),
    state.turned.length > 0 && make("div", { class: "turned" }, make("h3", {}, "Turned"), make("ul", {}, ...state.turned.map(({ adjuster, turns }) => make("li", {}, make("strong", {}, adjuster), ` ${turnsText(turns)}`)))),
    state.advice.length > 0 && make("div", { class: "advice" }, make("h3", {}, "Advice"), make("ul", {}, ...state.advice.map((text) => make("li", {}, text)))),
    doubtList(state.doubts),
  ];
}

/**
 * @param {Finding[]} found
 * @param {Finding[]} left
 * @returns {Row[]}
 */
function rowsOf(found, left) {
  /** @type {Map<string, Row>} */
  const rows = new Map();
  const row = (/** @type {Finding} */ { name, where }) => {
    const key = `${name}\n${where}`;
    const known = rows.get(key) ?? { name, where, found: null, left: null };
    rows.set(key, known);
    return known;
  };
  for (const finding of found) row(finding).found = finding;
  for (const finding of left) row(finding).left = finding;
  return [...rows.values()];
}

/**
 * @param {Row[]} rows
 * @param {boolean} adjusting whether the latest figures are from adjusting, no as-left measurement being there yet
 */
function table(rows, adjusting) {
  const heads = ["Figure", "As found", adjusting ? "While adjusting" : "As left", "Limit", "Verdict"];
  return make(
    "div",
    { class: "table-frame table-frame--open", tabindex: 0, role: "region", "aria-label": "Figures of this step" },
    make(
      "table",
      { class: "findings" },
      make("caption", { class: "unseen" }, "Figures of this step"),
      make("thead", {}, make("tr", {}, ...heads.map((head) => make("th", { scope: "col" }, head)))),
      make("tbody", {}, ...rows.map(tableRow)),
    ),
  );
}

/** @param {Row} row */
function tableRow({ name, where, found, left }) {
  const last = left ?? found;
  const verdict = last?.verdict ? verdictWords(last.verdict) : null;
  const standing = limitWords(last?.standing ?? null);
  return make(
    "tr",
    {},
    make("th", { scope: "row" }, name, where !== "" && make("span", { class: "findings__where" }, where)),
    figure(found),
    figure(left),
    make("td", {}, last === null ? "" : limitText(last), limitPicture(found, left)),
    make("td", {}, standing !== null && make("span", { class: "tag", "data-standing": standing.word }, symbol(standing.symbol), standing.word), verdict !== null && make("span", { class: "findings__verdict" }, verdict.word)),
  );
}

/** @param {Finding | null} finding */
function figure(finding) {
  if (finding === null) return make("td", { class: "quiet" }, "–");
  if (finding.value === null) return make("td", { class: "findings__none" }, "not measured", finding.reason && make("span", { class: "findings__where" }, finding.reason));
  return make("td", { class: "findings__value" }, findingText(finding));
}

/** The verdicts in sentences, each once. @param {Row[]} rows */
function sentences(rows) {
  const told = [...new Set(rows.map(({ left, found }) => (left ?? found)?.sentence).filter((sentence) => typeof sentence === "string" && sentence !== ""))];
  return told.length > 0 && make("ul", { class: "verdicts" }, ...told.map((text) => make("li", {}, String(text))));
}

/** @param {string[]} doubts */
function doubtList(doubts) {
  return (
    doubts.length > 0 &&
    make("section", { class: "doubts", "aria-label": "Doubts" }, make("h3", {}, symbol("doubt"), doubts.length === 1 ? "One doubt" : `${doubts.length} doubts`), make("ul", {}, ...doubts.map((text) => make("li", {}, text))))
  );
}
