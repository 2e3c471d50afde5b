// What a step came to: each figure as found and as left with its limit and verdict, what was turned, advice, doubts.

import { make, symbol } from "../shared/dom.js";
import { Slot } from "../shared/slot.js";
import { capital } from "../shared/words.js";
import { rowsOf } from "./findings.js";
import { bandsTable, namesInBands } from "./bands_table.js";
import { dialPicture } from "./dial_picture.js";
import { figureCell, figureTable, limitCell, verdictCell } from "./figure_table.js";
import { limitKey, limitPicture, limitText, printed, shareOf, turnsText } from "./figures.js";

/** @typedef {import("./types.js").JobStep} JobStep */
/** @typedef {import("./types.js").StepState} StepState */

/** @typedef {import("./types.js").Figure} Figure */

export class ResultPanel {
  #slot = new Slot(
    make("section", { class: "sheet step-result", "aria-labelledby": "step-result-title", hidden: true }),
  );

  get element() {
    return this.#slot.element;
  }

  /** @param {JobStep} step */
  show({ state, adjusters }) {
    const { as_left: left, adjusted, figures, dial, bands, turned, advice, doubts, reason } = state;
    this.element.hidden =
      figures.length + turned.length + advice.length + doubts.length === 0 && reason === null;
    const turning = left.length === 0 && adjusted.length > 0;
    this.#slot.show([figures, turning, dial, bands, turned, advice, doubts, reason], () => parts(state, adjusters));
  }
}

/**
 * @param {StepState} state
 * @param {import("./types.js").Adjuster[]} adjusters
 */
function parts(state, adjusters) {
  const kind = (/** @type {string} */ name) => adjusters.find((each) => each.name === name)?.kind ?? "";
  const rows = rowsOf(state);
  const inBands = state.bands === null ? new Set() : namesInBands(state.bands);
  const listed = rows.filter(({ name }) => !inBands.has(name));
  return [
    make(
      "div",
      { class: "plan__head" },
      make("h2", { id: "step-result-title" }, "Result"),
      rows.length > 0 && limitKey(),
    ),
    state.reason !== null && make("p", { class: "reason" }, state.reason),
    state.dial !== null && dialPicture(state.dial),
    ...(state.bands === null ? [] : bandsTable(state.bands)),
    listed.length > 0 && table(listed, state.as_left.length === 0 && state.adjusted.length > 0),
    state.turned.length > 0 &&
      make(
        "div",
        { class: "turned" },
        make("h3", {}, "Turned"),
        make(
          "ul",
          {},
          ...state.turned.map(({ adjuster, turns }) =>
            make("li", {}, make("strong", {}, adjuster), ` ${turnsText(turns, kind(adjuster))}`),
          ),
        ),
      ),
    state.advice.length > 0 &&
      make(
        "div",
        { class: "advice" },
        make("h3", {}, "Advice"),
        make("ul", {}, ...state.advice.map((text) => make("li", {}, capital(printed(text))))),
      ),
    doubtList(state.doubts),
  ];
}

/**
 * @param {Figure[]} rows
 * @param {boolean} adjusting whether the latest figures are from adjusting, no as-left measurement being there yet
 */
function table(rows, adjusting) {
  const hasLeft = rows.some(({ left }) => left !== null);
  const heads = [
    "Figure",
    "As found",
    ...(hasLeft ? [adjusting ? "While adjusting" : "As left"] : []),
    "Limit",
    "Verdict",
  ];
  const groups = groupsOf(rows).map(([head, each]) => ({
    head,
    rows: each.map((row) => tableRow(row.where === head ? { ...row, where: "" } : row, hasLeft)),
  }));
  return figureTable("Figures of this step", heads, groups);
}

/**
 * The rows in groups by place, where more than one figure was taken at some place; what stands alone tells its own, what
 * is judged before what is not.
 * @param {Figure[]} rows
 * @returns {[string, Figure[]][]}
 */
function groupsOf(rows) {
  /** @type {Map<string, Figure[]>} */
  const places = new Map();
  for (const row of rows) places.set(row.where, [...(places.get(row.where) ?? []), row]);
  const groups = [...places].filter(([where, each]) => where !== "" && each.length > 1);
  if (groups.length === 0) return [["", rows]];
  const alone = rows.filter(({ where }) => groups.every(([name]) => name !== where));
  const judged = alone.filter(({ found, left }) => (left ?? found)?.limit !== null);
  const others = alone.filter((row) => !judged.includes(row));
  /** @type {[string, Figure[]][]} */
  const all = [["", judged], ...groups, ["Other figures", others]];
  return all.filter(([, each]) => each.length > 0);
}

/**
 * @param {Figure} row
 * @param {boolean} hasLeft
 * @returns {import("./figure_table.js").TableRow}
 */
function tableRow({ name, where, found, left }, hasLeft) {
  const last = left ?? found;
  const share = last === null ? null : shareOf(last.unit);
  const more = [where, share].filter(Boolean).map((text) => make("span", { class: "findings__where" }, text));
  const limit = last === null || last.limit === null ? null : limitText(last);
  return {
    head: [name, ...more],
    cells: [
      figureCell(found),
      ...(hasLeft ? [figureCell(left)] : []),
      limitCell(limit, limitPicture(found, left)),
      verdictCell(last),
    ],
  };
}

/** @param {string[]} doubts */
function doubtList(doubts) {
  return (
    doubts.length > 0 &&
    make(
      "section",
      { class: "doubts", "aria-label": "Doubts" },
      make("h3", {}, symbol("doubt"), doubts.length === 1 ? "One doubt" : `${doubts.length} doubts`),
      make("ul", {}, ...doubts.map((text) => make("li", {}, printed(text)))),
    )
  );
}
