// The bench strip: who is on the bench, and whether the source's output is on. Always in sight.

import { byId, fill, make, setText, symbol } from "../shared/dom.js";

/** @typedef {import("../shared/types.js").Bench} Bench */
/** @typedef {import("../shared/types.js").Instrument} Instrument */

/** @type {Readonly<Record<string, {symbol: string, word: string}>>} */
export const STATES = Object.freeze({
  ready: { symbol: "ready", word: "ready" },
  missing: { symbol: "missing", word: "missing" },
  lost: { symbol: "cross", word: "lost" },
});

export const OUTPUT = Object.freeze({
  on: { symbol: "output-on", word: "Output is on" },
  off: { symbol: "output-off", word: "Output is off" },
  unknown: { symbol: "output-unknown", word: "Output not known" },
});

/**
 * The state of the output as the bench tells it.
 * @param {Bench} bench
 * @returns {keyof typeof OUTPUT}
 */
export const outputState = ({ output_on: on }) => (on === null ? "unknown" : on ? "on" : "off");

/**
 * @param {{outputOff: () => void}} actions
 */
export function createBenchStrip(actions) {
  const list = byId("instruments", HTMLElement);
  const output = byId("output", HTMLElement);
  const mode = byId("mode", HTMLElement);
  byId("output-off", HTMLButtonElement).addEventListener("click", actions.outputOff);

  /** @param {keyof typeof OUTPUT} state */
  const showOutput = (state) => {
    if (output.dataset.state === state && output.childElementCount > 0) return;
    output.dataset.state = state;
    fill(output, symbol(OUTPUT[state].symbol), make("span", {}, OUTPUT[state].word));
  };
  showOutput("unknown");

  return {
    /** @param {Bench} bench */
    show(bench) {
      setText(mode, bench.mode === "practice" ? "Practice bench" : "Real bench");
      fill(list, ...instruments(bench.instruments));
      showOutput(outputState(bench));
    },
    /** The service is out of reach: what was known of the bench no longer holds. */
    lose() {
      showOutput("unknown");
      for (const item of list.children) item.classList.add("instrument--stale");
    },
    /**
     * The source changed its output in the running scan.
     * @param {boolean} on
     */
    output: (on) => showOutput(on ? "on" : "off"),
  };
}

/**
 * @param {Instrument[]} list
 * @returns {HTMLElement[]}
 */
function instruments(list) {
  if (list.length === 0) {
    return [make("li", { class: "instrument instrument--none" }, "No instruments. Name them in a bench file, or start the practice bench.")];
  }
  return list.map(instrument);
}

/** @param {Instrument} each */
function instrument({ role, address, identity, state, detail }) {
  const { symbol: picture, word } = STATES[state] ?? { symbol: "missing", word: state };
  return make(
    "li",
    { class: "instrument", "data-state": state, title: [identity, address, detail].filter(Boolean).join("\n") },
    make("span", { class: "instrument__state" }, symbol(picture)),
    make("span", { class: "instrument__role" }, role),
    make("span", { class: "instrument__word" }, word),
  );
}
