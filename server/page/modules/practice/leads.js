// The leads of the practice bench: where each instrument is clipped on, and through what.

import { make } from "../shared/dom.js";
import { capital } from "../shared/words.js";

/** @typedef {import("./types.js").Practice} Practice */
/** @typedef {import("./types.js").PracticeLead} PracticeLead */

/**
 * @param {Practice} practice
 * @param {(role: string, to: string | null, through: string | null) => void} connect
 * @returns {HTMLElement[]}
 */
export const leadFields = ({ leads, receiver }, connect) =>
  Object.entries(leads).map(([role, lead]) => field(role, lead, receiver.points[role] ?? [], connect));

/**
 * @param {string} role
 * @param {PracticeLead} lead
 * @param {string[]} points
 * @param {(role: string, to: string | null, through: string | null) => void} connect
 */
function field(role, lead, points, connect) {
  const places = points.map((each) => make("option", { value: each, selected: each === lead.to }, each));
  const to = make("select", {}, make("option", { value: "" }, "nowhere"), ...places);
  const through = make("input", { type: "text", value: lead.through ?? "", autocomplete: "off", placeholder: "nothing" });
  const changed = () => connect(role, to.value || null, through.value.trim() || null);
  to.addEventListener("change", changed);
  through.addEventListener("change", changed);
  return make(
    "div",
    { class: "practice__lead" },
    make("label", {}, make("span", {}, `${capital(role)} to`), to),
    make("label", {}, make("span", {}, `${capital(role)} through`), make("span", { class: "measure" }, through)),
  );
}
