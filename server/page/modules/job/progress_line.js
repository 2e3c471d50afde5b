// How far the run that is on has come: in words, and as a bar where the run knows.

import { make, setText } from "../shared/dom.js";
import { counted, timeLeft } from "../shared/words.js";

/** @typedef {import("../scan/record.js").ScanRecord} ScanRecord */

export class ProgressLine {
  #done = make("strong", {});
  #left = make("span", {});
  #bar = make("progress", { class: "run__bar", max: 1, "aria-label": "Progress of the run" });
  element = make(
    "div",
    { class: "progress-line" },
    make("p", { class: "run__text" }, this.#done, " ", this.#left),
    this.#bar,
  );

  /** @param {ScanRecord | null} run */
  show(run) {
    const progress = run?.progress ?? null;
    this.#bar.hidden = progress === null;
    if (progress !== null) this.#bar.value = progress.done;
    setText(
      this.#done,
      progress?.text ??
        (run === null || run.readings.size === 0 ? "On the bench" : `${counted(run.readings.size, "reading")} taken`),
    );
    setText(this.#left, progress === null ? (run?.notices.at(-1) ?? "") : timeLeft(progress.remaining_s));
  }
}
