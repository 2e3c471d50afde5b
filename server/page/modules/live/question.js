// What the run waits for: what to do, in large type, and the answers as large buttons.

import { cautionList } from "../shared/cautions.js";
import { fill, make, symbol } from "../shared/dom.js";
import { capital, inWords } from "../shared/words.js";
import { TurnRing } from "./turn_ring.js";
import { answerWords } from "./words.js";

/** @typedef {import("./types.js").Question} Question */

/**
 * @typedef {object} QuestionActions
 * @property {(answer: string) => void} answer
 * @property {(() => void) | null} doForMe null where nobody can: on a real bench
 */

export class QuestionView {
  #actions;
  element = make("div", { class: "question", hidden: true });
  /** @type {HTMLButtonElement[]} */
  #buttons = [];
  /** @type {string} */
  #shown = "";

  /** @param {QuestionActions} actions */
  constructor(actions) {
    this.#actions = actions;
  }

  /**
   * @param {Question | null} question
   * @param {{operating: boolean, drawn: boolean}} how whether this page may answer; whether the turn is drawn already
   */
  show(question, { operating, drawn }) {
    const key = question === null ? "" : JSON.stringify([question, operating, drawn]);
    if (key === this.#shown) return;
    this.#shown = key;
    this.element.hidden = question === null;
    if (question === null) return fill(this.element);
    this.element.dataset.action = question.action;
    this.#buttons = question.answers.map((answer, index) => this.#button(answer, index === 0));
    fill(
      this.element,
      cautionList(question.detail?.cautions ?? []),
      ...(drawn ? [] : turnOrder(question)),
      make("p", { class: "question__text" }, question.text),
      question.action === "connect" && leads(question.detail ?? {}),
      operating
        ? make("div", { class: "question__answers" }, ...this.#buttons, this.#forMe(question))
        : make("p", { class: "hint" }, "The page that operates the bench answers this."),
    );
  }

  /** Whether answers can be given at the moment: not while one is on its way. @param {boolean} busy */
  wait(busy) {
    for (const button of this.#buttons) button.setAttribute("aria-disabled", String(busy));
  }

  /** Draw the eye to the answers: the key cannot choose among them. */
  point() {
    this.#buttons[0]?.focus();
  }

  /**
   * @param {string} answer
   * @param {boolean} first
   */
  #button(answer, first) {
    const kind = first ? "button button--answer button--first" : "button button--answer";
    return make("button", { type: "button", class: kind, onclick: () => this.#actions.answer(answer) }, answerWords(answer));
  }

  /** @param {Question} question */
  #forMe({ action }) {
    const { doForMe } = this.#actions;
    if (doForMe === null || action === "choose" || action === "adjust") return null;
    return make("button", { type: "button", class: "button button--practice", onclick: doForMe }, symbol("practice"), "Do it for me");
  }
}

/**
 * A turn to be made, drawn as the live area draws it.
 * @param {Question} question
 */
function turnOrder({ action, subject, detail = {} }) {
  const heading = make("h3", { class: "now__adjuster" }, subject);
  if (action === "adjust") return [heading];
  // A knob or a pointer goes up or down its scale, which may be either way round: only turns are drawn as turns.
  if (action !== "turn" || typeof detail.turns !== "number" || detail.unit !== "turns") return [];
  const way = detail.turns > 0 ? "clockwise" : "anticlockwise";
  const ring = new TurnRing();
  ring.show({ kind: "arrow", way, turns: Math.abs(detail.turns) });
  return [
    heading,
    make(
      "div",
      { class: "now__order", "aria-hidden": "true" },
      ring.element,
      make("div", { class: "now__words" }, make("p", { class: "now__word" }, "turn"), make("p", { class: "now__way" }, way)),
    ),
  ];
}

/** @param {Record<string, any>} detail */
function leads(detail) {
  const rows = ["source", "meter", "counter"]
    .filter((role) => detail[role]?.to)
    .map((role) => lead(role, detail[role]));
  const settings = Object.entries(detail.controls ?? {}).map(([control, to]) => setting(control, to));
  if (settings.length > 0) {
    rows.push(make("div", { class: "leads__row" }, make("dt", {}, "Set"), make("dd", {}, ...settings)));
  }
  return rows.length > 0 && make("dl", { class: "leads" }, ...rows);
}

/**
 * @param {string} control
 * @param {string | number} to
 */
const setting = (control, to) => make("span", { class: "leads__setting" }, `${inWords(control)} `, make("strong", {}, String(to)));

/**
 * @param {string} role
 * @param {{to: string, through: string | null}} where
 */
function lead(role, { to, through }) {
  const way = through ? make("span", { class: "leads__way" }, `through ${through}`) : null;
  return make("div", { class: "leads__row" }, make("dt", {}, capital(role)), make("dd", {}, to, way));
}
