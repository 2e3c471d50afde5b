// Cautions, as they stand before every hookup.

import { make, symbol } from "./dom.js";

/**
 * @param {string[]} cautions
 * @returns {HTMLElement | null}
 */
export function cautionList(cautions) {
  if (cautions.length === 0) return null;
  return make(
    "div",
    { class: "cautions" },
    make("p", { class: "cautions__word" }, symbol("caution"), cautions.some((each) => each.startsWith("DANGER")) ? "Danger" : "Note"),
    make("ul", {}, ...cautions.map((caution) => make("li", {}, caution))),
  );
}
