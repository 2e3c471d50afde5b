// A table of figures that needs no scrolling to the side: where there is no room for its columns, each row is stacked, and
// each figure carries its column's name.

import { make, symbol } from "../shared/dom.js";
import { findingText, printed } from "./figures.js";
import { limitWords, verdictWords } from "./standing.js";

/** @typedef {import("./types.js").Finding} Finding */
/** @typedef {import("../shared/dom.js").Child} Child */

/** @typedef {{class?: string, parts: Child[]}} Cell */
/** @typedef {{head: Child[], cells: Cell[]}} TableRow */
/** @typedef {{head: string, rows: TableRow[]}} TableGroup */

// Roles are spelled out: a browser forgets those of a table that is laid out as anything else.

/**
 * @param {string} name what the table holds, for who cannot see it
 * @param {string[]} heads of the columns
 * @param {TableGroup[]} groups the rows by their headings; an empty heading is not shown
 */
export function figureTable(name, heads, groups) {
  const head = make(
    "thead",
    { role: "rowgroup" },
    make("tr", { role: "row" }, ...heads.map((each) => make("th", { role: "columnheader", scope: "col" }, each))),
  );
  return make(
    "div",
    { class: "findings-frame" },
    make(
      "table",
      { class: "findings", role: "table", "aria-label": name },
      head,
      ...groups.map((group) => body(group, heads)),
    ),
  );
}

/**
 * @param {TableGroup} group
 * @param {string[]} heads
 */
function body({ head, rows }, heads) {
  const heading =
    head !== "" &&
    make(
      "tr",
      { class: "findings__group", role: "row" },
      make("th", { role: "rowheader", scope: "rowgroup", colspan: heads.length }, head),
    );
  return make("tbody", { role: "rowgroup" }, heading, ...rows.map((row) => line(row, heads)));
}

/**
 * @param {TableRow} row
 * @param {string[]} heads
 */
function line({ head, cells }, heads) {
  return make(
    "tr",
    { role: "row" },
    make("th", { role: "rowheader", scope: "row" }, ...head),
    ...cells.map(({ class: name, parts }, index) =>
      make("td", { role: "cell", class: name, "data-head": heads[index + 1] }, ...parts),
    ),
  );
}

/**
 * A measured figure; `more` stands small below it.
 * @param {Finding | null} finding
 * @param {...string} more
 * @returns {Cell}
 */
export function figureCell(finding, ...more) {
  if (finding === null) return { class: "findings__no quiet", parts: ["–"] };
  const small = (/** @type {string} */ text) => make("span", { class: "findings__where" }, text);
  if (finding.value === null) {
    const reasons = finding.reason ? [finding.reason, ...more] : more;
    return { class: "findings__none", parts: [make("span", {}, "not measured", ...reasons.map(small))] };
  }
  const value = make("span", { class: "findings__value" }, findingText(finding));
  return { class: "findings__figure", parts: [make("span", {}, value, ...more.map(small))] };
}

/**
 * @param {string | null} limit in words; null where there is none
 * @param {Child} picture where the figures lie to it
 * @returns {Cell}
 */
export const limitCell = (limit, picture) =>
  limit === null
    ? { class: "findings__no quiet", parts: ["–"] }
    : { class: "findings__limit", parts: [make("span", {}, limit, picture)] };

/**
 * How a figure stands to its limit, and what is to be done about it. Its value and its limit stand beside it: the
 * sentence that repeats them is told only where there is more to it than to leave the figure alone.
 * @param {Finding | null} finding
 * @returns {Cell}
 */
export function verdictCell(finding) {
  const standing = limitWords(finding?.standing ?? null);
  const fine = finding?.verdict === "leave" && finding.standing?.startsWith("within its limit");
  const words = fine ? null : verdictText(finding);
  return {
    class: standing === null && words === null ? "findings__no" : "findings__judged",
    parts: [
      make(
        "div",
        {},
        standing !== null &&
          make("span", { class: "tag", "data-standing": standing.word }, symbol(standing.symbol), standing.word),
        fine && " ",
        fine && make("span", { class: "findings__act" }, verdictWords("leave").word),
        words !== null && make("span", { class: "findings__verdict" }, words),
      ),
    ],
  };
}

/** @param {Finding | null} finding */
function verdictText(finding) {
  if (finding?.sentence) return printed(finding.sentence);
  return finding?.verdict ? verdictWords(finding.verdict).word : null;
}
