// What the lines and markers on the chart mean, drawn beside their words.

import { fill, make, part } from "../shared/dom.js";
import { CURVE_STYLES } from "./theme.js";

/**
 * @typedef {object} KeyEntry
 * @property {"reading" | "rough" | "aside" | "fit" | "curve" | "centre" | "edges" | "nominal"} sample
 * @property {number} [curve] which of the curve styles it wears
 * @property {string} text
 * @property {(() => void) | null} [remove] takes the curve off the chart
 */

export class ChartKey {
  element;
  #shown = "";

  /** @param {string} name what the id begins with */
  constructor(name) {
    this.element = make("figcaption", { id: `${name}-caption`, class: "chart__key" });
  }

  /** @param {KeyEntry[]} entries */
  show(entries) {
    const key = JSON.stringify(entries);
    // Written anew only where something differs, so that a focused button in it keeps the focus.
    if (key === this.#shown) return;
    this.#shown = key;
    fill(this.element, ...entries.map(entry));
  }
}

/** @param {KeyEntry} each */
function entry({ sample, curve = 0, text, remove }) {
  return make(
    "span",
    { class: sample === "curve" ? "key key--curve" : "key" },
    picture(sample, curve),
    make("span", {}, text),
    remove && make("button", { type: "button", class: "button button--small", onclick: remove, "aria-label": `Take ${text} off the chart` }, "Remove"),
  );
}

/**
 * @param {KeyEntry["sample"]} sample
 * @param {number} curve
 */
function picture(sample, curve) {
  const style = CURVE_STYLES[curve] ?? CURVE_STYLES[0];
  const svg = part("svg", { class: "key__sample", "aria-hidden": "true", viewBox: "0 0 36 16" });
  svg.style.color = `var(${SAMPLE_COLOURS[sample] ?? style?.variable})`;
  svg.innerHTML = SAMPLES[sample](style?.marker ?? "circle", (style?.dash ?? []).join(" "));
  return svg;
}

/** @type {Readonly<Partial<Record<KeyEntry["sample"], string>>>} */
const SAMPLE_COLOURS = Object.freeze({ rough: "--ink-quiet", aside: "--ink-quiet", centre: "--mark", edges: "--mark", nominal: "--ink-quiet" });

/** @type {Readonly<Record<string, string>>} */
const MARKERS = Object.freeze({
  circle: '<circle cx="18" cy="8" r="4.5"/>',
  square: '<rect x="13.8" y="3.8" width="8.4" height="8.4"/>',
  triangle: '<path d="M18 3l5 9H13z"/>',
  diamond: '<path d="M18 2.5l4 5.5-4 5.5-4-5.5z"/>',
});

/** @type {Readonly<Record<KeyEntry["sample"], (marker: string, dash: string) => string>>} */
const SAMPLES = Object.freeze({
  reading: (marker) => `<g fill="none" stroke="currentColor" stroke-width="1.8">${MARKERS[marker]}</g>`,
  rough: () => '<circle cx="18" cy="8" r="3" fill="currentColor"/>',
  aside: () => '<path d="M14 4l8 8M22 4l-8 8" stroke="currentColor" stroke-width="2"/>',
  fit: (_marker, dash) =>
    `<rect x="0" y="3" width="36" height="10" fill="currentColor" opacity=".22"/><path d="M0 8h36" stroke="currentColor" stroke-width="2.5" stroke-dasharray="${dash}"/>`,
  curve: (marker, dash) =>
    `<path d="M0 8h36" stroke="currentColor" stroke-width="2.5" stroke-dasharray="${dash}"/><g fill="var(--sheet)" stroke="currentColor" stroke-width="1.8">${MARKERS[marker]}</g>`,
  centre: () => '<path d="M18 0v16" stroke="currentColor" stroke-width="2" stroke-dasharray="4 2.5"/>',
  edges: () => '<path d="M7 8h22" stroke="currentColor" stroke-width="2"/><path d="M7 3l4 5-4 5-4-5zM29 3l4 5-4 5-4-5z" fill="var(--sheet)" stroke="currentColor" stroke-width="1.8"/>',
  nominal: () => '<path d="M18 0v16" stroke="currentColor" stroke-width="1.8" stroke-dasharray="1.5 3"/>',
});
