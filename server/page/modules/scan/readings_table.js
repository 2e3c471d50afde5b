// The readings as a table: the chart for those who do not see it, and the raw figures for those who doubt it.

import { byId, fill, make } from "../shared/dom.js";
import { settingText, signed, voltsText } from "../shared/units.js";

/** @typedef {import("../shared/types.js").Reading} Reading */

const HEADS = ["No.", "Time, s", "Frequency", "Source, dBm", "Meter", "Level, dB", "Taken for", "Remark"];

/** Rows shown at most; the downloads hold them all. */
const MOST_ROWS = 1000;

export function createReadingsTable() {
  const fold = byId("readings-list", HTMLDetailsElement);
  const host = byId("readings-table", HTMLElement);
  /** @type {Reading[]} */
  let readings = [];

  const draw = () => {
    if (fold.open) fill(host, ...(readings.length === 0 ? [make("p", { class: "hint" }, "No readings yet.")] : tableOf(readings)));
  };
  fold.addEventListener("toggle", draw);

  return {
    /**
     * Costs nothing while the list is folded.
     * @param {Reading[]} next
     */
    show(next) {
      readings = next;
      draw();
    },
  };
}

/**
 * @param {Reading[]} readings
 * @returns {HTMLElement[]}
 */
function tableOf(readings) {
  const shown = readings.slice(-MOST_ROWS);
  const table = make(
    "table",
    { class: "readings" },
    make("thead", {}, make("tr", {}, ...HEADS.map((head) => make("th", { scope: "col" }, head)))),
    make("tbody", {}, ...shown.map(row)),
  );
  if (shown.length === readings.length) return [table];
  return [make("p", { class: "hint" }, `The last ${MOST_ROWS} of ${readings.length}; the CSV holds them all.`), table];
}

/** @param {Reading} reading */
function row(reading) {
  const cells = [
    String(reading.index),
    reading.time_s.toFixed(1),
    reading.frequency_hz === null ? "–" : settingText(reading.frequency_hz),
    reading.power_dbm === null ? "–" : signed(reading.power_dbm, "", 1).trim(),
    reading.value_v === null ? "–" : voltsText(reading.value_v),
    reading.level_db === null ? "–" : signed(reading.level_db, "", 2).trim(),
    reading.purpose,
    remark(reading),
  ];
  return make("tr", {}, ...cells.map((text) => make("td", {}, text)));
}

/** @param {Reading} reading */
function remark({ mark, purpose, used }) {
  if (mark !== "good") return mark;
  if (purpose !== "scan" && !used) return "not part of the fit";
  return purpose === "scan" && !used ? "not used" : "";
}
