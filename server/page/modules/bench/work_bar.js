// What is on the bench now, in one line under the strip, with the way to it; unseen where it is in view already.

import { byId, fill, make, symbol } from "../shared/dom.js";
import { addressOf, readPlace } from "../shared/router.js";

/** @typedef {import("../shared/types.js").Bench} Bench */

export class WorkBar {
  #host = byId("work", HTMLElement);
  /** @type {Bench | null} */
  #bench = null;
  #shown = "";

  /** @param {Bench} bench */
  show(bench) {
    this.#bench = bench;
    this.look(readPlace());
  }

  /** @param {import("../shared/router.js").Place} place what is in view */
  look({ path }) {
    const work = this.#bench === null ? null : workOf(this.#bench);
    const here =
      work !== null &&
      (work.place.every((part, index) => path[index] === part) || (work.anyScan && (path[0] ?? "").startsWith("scan")));
    const key = work === null || here ? "" : JSON.stringify(work);
    if (key === this.#shown) return;
    this.#shown = key;
    this.#host.hidden = key === "";
    if (key === "" || work === null) fill(this.#host);
    else
      fill(
        this.#host,
        symbol(work.asks ? "question" : "running"),
        make("p", {}, work.text),
        make("a", { class: "button button--small", href: addressOf(work.place) }, "Show it"),
      );
  }
}

/**
 * @param {Bench} bench
 * @returns {{text: string, place: string[], asks: boolean, anyScan: boolean} | null}
 */
function workOf({ session, busy_run: run }) {
  if (session) {
    const { title, phase, asked } = session;
    const text = asked
      ? `On the bench: ${title}. It asks something of you.`
      : `On the bench: ${title}${phase ? `, ${phase}` : ""}.`;
    return { text, place: ["jobs", String(session.job), session.step], asks: Boolean(asked), anyScan: false };
  }
  return run === null
    ? null
    : { text: `Scan ${run} is running.`, place: ["scans", String(run)], asks: false, anyScan: true };
}
