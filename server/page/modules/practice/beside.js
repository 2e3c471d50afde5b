// The practice panel beside a step: it is there on the practice bench only, and keeps what is asked under the hand.

import { make } from "../shared/dom.js";
import { practiceCalls } from "./calls.js";
import { PracticePanel } from "./panel.js";

/** @typedef {import("../shared/types.js").Bench} Bench */

/** Questions that are answered by turning something. */
const BY_TURNING = Object.freeze(["turn", "adjust"]);

export class PracticeBeside {
  element = make("div", { class: "practice-host" });
  #api;
  /** @type {PracticePanel | null} */
  #panel = null;
  /** What the bench did last that may have changed leads, controls or adjusters. */
  #seen = "";

  /** @param {import("../shared/api.js").Api} api */
  constructor(api) {
    this.#api = api;
  }

  /** @param {Bench | null} bench */
  show(bench) {
    if (bench?.mode !== "practice") return;
    const { session } = bench;
    const asked = session?.asked ?? null;
    const seen = JSON.stringify([session?.job, session?.run, asked?.number]);
    if (seen === this.#seen) return;
    this.#seen = seen;
    this.#refresh(asked !== null && BY_TURNING.includes(asked.action) ? asked.subject : null);
  }

  /**
   * Bring an adjuster under the hand.
   * @param {string} adjuster
   */
  point(adjuster) {
    this.#panel?.point(adjuster);
  }

  /** @param {string | null} adjuster */
  async #refresh(adjuster) {
    if (this.#panel === null) {
      this.#panel = new PracticePanel(practiceCalls(this.#api));
      this.element.append(this.#panel.element);
    }
    await this.#panel.refresh();
    if (adjuster !== null) this.point(adjuster);
  }
}
