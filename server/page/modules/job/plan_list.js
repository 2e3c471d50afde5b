// The plan as a list: how each step stands, its figures as found and as left, and why a step cannot come yet.

import { make, symbol } from "../shared/dom.js";
import { addressOf } from "../shared/router.js";
import { settingText } from "../shared/units.js";
import { listed } from "../shared/words.js";
import { figuresOf } from "./findings.js";
import { kindText } from "./kind.js";
import { findingText, limitPicture, limitText, nameText, printed } from "./figures.js";
import { limitWords, standingOf, worst } from "./standing.js";

/** @typedef {import("./types.js").Job} Job */
/** @typedef {import("./types.js").JobStep} JobStep */
/** @typedef {import("./types.js").Finding} Finding */

/**
 * @param {Job} job
 * @param {string | null} onBench the step that a session runs now
 */
export function planRows(job, onBench) {
  const shared = sharedReason(job.steps);
  return make(
    "div",
    { class: "plan__frame" },
    shared !== null && make("p", { class: "plan__shared" }, symbol("wait"), make("span", {}, shared)),
    make(
      "div",
      { class: "plan__heads", "aria-hidden": "true" },
      ...["", "Step", "As found", "As left", "Stands"].map((head) => make("span", {}, head)),
    ),
    make(
      "ol",
      { class: "plan__list" },
      ...job.steps.map((step, index) => row(job, step, index + 1, { onBench, shared })),
    ),
  );
}

/**
 * @param {Job} job
 * @param {JobStep} step
 * @param {number} number
 * @param {{onBench: string | null, shared: string | null}} around
 */
function row(job, step, number, { onBench, shared }) {
  const isNext = step.id === job.next_step;
  const standing = standingOf(step, isNext, step.id === onBench);
  const found = figuresOf(step.state, "found");
  const left = figuresOf(step.state, "left");
  return make(
    "li",
    {
      class: "plan-row",
      "data-step": step.id,
      "data-tone": standing.tone,
      "data-next": isNext,
      "aria-current": (isNext || step.id === onBench) && "step",
    },
    make("span", { class: "plan-row__number" }, String(number)),
    stepCell(job, step),
    figureCell("As found", found, "found"),
    figureCell("As left", left, "left"),
    make(
      "div",
      { class: "plan-row__stands" },
      make(
        "p",
        { class: "stand", "data-tone": standing.tone },
        symbol(standing.symbol),
        make("span", {}, standing.word),
      ),
      limitPicture(worst(found), worst(left)),
    ),
    ...reasons(job, step, standing.word, shared),
  );
}

/**
 * @param {Job} job
 * @param {JobStep} step
 */
function stepCell(job, step) {
  const { id, title, nominal_khz: nominal } = step;
  const link = { class: "plan-row__title", href: addressOf(["jobs", job.id, id]), "data-control": `step ${id}` };
  const what = [kindText(step), nominal !== null && settingText(nominal * 1e3)].filter(Boolean).join(" · ");
  return make(
    "div",
    { class: "plan-row__step" },
    make("a", link, title),
    what !== "" && make("span", { class: "plan-row__kind" }, what),
  );
}

/**
 * @param {string} label
 * @param {Finding[]} findings
 * @param {"found" | "left"} kind
 */
function figureCell(label, findings, kind) {
  const finding = worst(findings);
  const name = make("span", { class: "plan-row__label" }, label);
  if (finding === null)
    return make(
      "div",
      { class: `plan-row__figure plan-row__figure--${kind} plan-row__figure--none` },
      name,
      make("span", { class: "quiet", "aria-label": "none yet" }, "–"),
    );
  const words = limitWords(finding.standing);
  return make(
    "div",
    { class: `plan-row__figure plan-row__figure--${kind}` },
    name,
    make("span", { class: "plan-row__value" }, words !== null && symbol(words.symbol), findingText(finding)),
    make(
      "span",
      { class: "plan-row__name" },
      [nameText(finding), finding.limit !== null && `limit ${limitText(finding)}`, words?.word]
        .filter(Boolean)
        .join(", "),
    ),
    make("span", { class: "plan-row__more" }, amongText(finding, findings)),
  );
}

/**
 * How many figures stand behind the one that is shown.
 * @param {Finding} shown
 * @param {Finding[]} findings
 */
function amongText(shown, findings) {
  const judged = findings.filter(({ limit }) => limit !== null).length;
  if (shown.limit !== null) return judged > 1 ? `worst of ${judged}` : "";
  return findings.length > 1 ? `and ${findings.length - 1} more` : "";
}

/** From so many steps on, what keeps them all waiting is said once. */
const MANY = 3;

/**
 * What keeps many steps waiting alike, or null.
 * @param {JobStep[]} steps
 * @returns {string | null}
 */
function sharedReason(steps) {
  const all = steps.filter(({ state }) => state.ending === null).flatMap(({ state }) => state.refused);
  return all.find((reason) => all.filter((other) => other === reason).length >= MANY) ?? null;
}

/**
 * Which steps it waits for, by their numbers in the list; `refused` begins with that in words.
 * @param {Job} job
 * @param {JobStep} step
 */
function waitsFor(job, { state: { waits_for: ids, refused } }) {
  if (ids.length === 0) return refused;
  const numbers = ids.map((id) => job.steps.findIndex((each) => each.id === id) + 1).sort((one, other) => one - other);
  return [`Waits for step${numbers.length === 1 ? "" : "s"} ${listed(numbers)}.`, ...refused.slice(1)];
}

/**
 * @param {Job} job
 * @param {JobStep} step
 * @param {string} word
 * @param {string | null} shared what is said above the list already
 */
function reasons(job, step, word, shared) {
  const { state } = step;
  const title = (/** @type {string} */ id) => job.steps.find((each) => each.id === id)?.title ?? id;
  const told = [];
  if (word === "waits" || word === "next") told.push(...waitsFor(job, step).filter((reason) => reason !== shared));
  if (state.reason !== null) told.push(state.reason);
  if (state.undone_by.length > 0 && state.ending !== null)
    told.push(`What it rests on was adjusted after it: ${listed(state.undone_by.map(title))}.`);
  told.push(...state.doubts.map((doubt) => `Doubt: ${printed(doubt)}`));
  return told.length === 0
    ? []
    : [make("ul", { class: "plan-row__reasons" }, ...told.map((text) => make("li", {}, text)))];
}
