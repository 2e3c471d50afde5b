// The bench: each instrument with its health, the output, the last error, who operates, and the ways to mend it.

import { PracticeBeside } from "../practice/beside.js";
import { byId, fill, make, symbol } from "../shared/dom.js";
import { capital } from "../shared/words.js";
import { OUTPUT, outputState, STATES } from "./strip.js";

/** @typedef {import("../shared/types.js").Bench} Bench */
/** @typedef {import("../shared/types.js").Instrument} Instrument */

export class BenchPage {
  title = "Bench";
  host = byId("bench-page", HTMLElement);
  #context;
  #instruments = byId("bench-list", HTMLElement);
  #facts = byId("bench-facts", HTMLElement);
  #operator = byId("bench-operator", HTMLElement);
  #practice;
  #shown = "";

  /** @param {import("../page.js").Context} context */
  constructor(context) {
    this.#context = context;
    this.#practice = new PracticeBeside(context.api);
    this.host.append(this.#practice.element);
    byId("look-again", HTMLButtonElement).addEventListener("click", context.lookAgain);
  }

  show() {
    this.situation();
  }

  hide() {}

  take() {}

  async reread() {}

  bench() {
    this.situation();
  }

  situation() {
    const { known, connected, operating, watching } = this.#context.situation;
    if (!this.host.hidden) this.#practice.show(known);
    const key = JSON.stringify([known, connected, operating, watching]);
    if (key === this.#shown) return;
    this.#shown = key;
    if (known === null) {
      fill(this.#instruments, make("p", { class: "hint" }, "The service has not told yet what is on the bench."));
      return;
    }
    fill(this.#instruments, ...cards(known, connected));
    fill(this.#facts, ...facts(known, connected));
    fill(this.#operator, ...operatorParts(this.#context));
  }
}

/**
 * @param {Bench} bench
 * @param {boolean} connected
 */
function cards({ instruments }, connected) {
  if (instruments.length === 0)
    return [make("p", { class: "hint" }, "No instruments. Name them in a bench file, or start the practice bench.")];
  return instruments.map((each) => card(each, connected));
}

/**
 * @param {Instrument} instrument
 * @param {boolean} connected
 */
function card({ role, address, identity, state, detail }, connected) {
  const { symbol: picture, word } = STATES[state] ?? { symbol: "missing", word: state };
  return make(
    "article",
    { class: "instrument-card", "data-state": state, "aria-label": capital(role) },
    make(
      "header",
      { class: "instrument-card__head" },
      make("h3", {}, capital(role)),
      make(
        "p",
        { class: "tag tag--state", "data-state": state },
        symbol(picture),
        connected ? word : `${word} when last heard`,
      ),
    ),
    make("p", { class: "instrument-card__identity" }, identity ?? "Has not said what it is."),
    detail && make("p", { class: "instrument-card__detail" }, detail),
    make("p", { class: "instrument-card__address" }, address),
  );
}

/**
 * @param {Bench} bench
 * @param {boolean} connected
 */
function facts(bench, connected) {
  const { symbol: picture, word } = OUTPUT[connected ? outputState(bench) : "unknown"];
  /** @type {[string, (Node | string)[]][]} */
  const rows = [
    ["Bench", [bench.mode === "practice" ? "Practice bench: simulated instruments and receivers" : "Real bench"]],
    ["Source", [make("span", { class: "tag" }, symbol(picture), word)]],
    ["On the bench", [workText(bench)]],
    [
      "Last error",
      bench.last_error === null
        ? ["none"]
        : [make("span", { class: "tag tag--grave" }, symbol("cross"), bench.last_error)],
    ],
  ];
  return rows.map(([name, content]) => make("div", {}, make("dt", {}, name), make("dd", {}, ...content)));
}

/** @param {Bench} bench */
function workText({ session, busy_run: run }) {
  if (session) return `the step “${session.title}”${session.phase ? `, ${session.phase}` : ""}`;
  return run === null ? "nothing is running" : `scan ${run}`;
}

/** @param {import("../page.js").Context} context */
function operatorParts({ situation, takeOver }) {
  if (!situation.connected) return [make("p", {}, "Not known while the service does not answer.")];
  if (situation.operating)
    return [
      make(
        "p",
        {},
        make("strong", {}, "This page operates the bench."),
        " Others that are open watch, and may take over.",
      ),
    ];
  if (!situation.watching) return [make("p", {}, "Nobody operates the bench. The first page to begin something does.")];
  return [
    make(
      "p",
      {},
      make("strong", {}, "Another page operates the bench."),
      " This one watches. Whoever takes over can stop, answer and begin; the other page then watches. Output off works from every page.",
    ),
    make("button", { type: "button", class: "button", onclick: takeOver }, "Take over"),
  ];
}
