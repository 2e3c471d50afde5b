// The chart's colours and strokes, taken from the page's own style so that light, dark and print follow.

/**
 * How each overlaid curve is told from the others: a dash and a marker as well as a colour.
 * @typedef {object} CurveStyle
 * @property {string} letter
 * @property {string} variable the style variable with its colour
 * @property {string} marker
 * @property {number[]} dash
 */

/** @type {readonly CurveStyle[]} */
export const CURVE_STYLES = Object.freeze([
  { letter: "A", variable: "--curve-a", marker: "circle", dash: [] },
  { letter: "B", variable: "--curve-b", marker: "square", dash: [9, 4] },
  { letter: "C", variable: "--curve-c", marker: "triangle", dash: [2, 3] },
  { letter: "D", variable: "--curve-d", marker: "diamond", dash: [10, 3, 2, 3] },
]);

/** As many curves as can be told apart. */
export const MOST_CURVES = CURVE_STYLES.length;

/**
 * @typedef {object} Theme
 * @property {string} sheet
 * @property {string} ink
 * @property {string} quiet
 * @property {string} grid
 * @property {string} mark
 * @property {string} font
 * @property {string[]} curves
 */

/** @returns {Theme} */
export function readTheme() {
  const style = getComputedStyle(document.documentElement);
  const value = (/** @type {string} */ name) => style.getPropertyValue(name).trim();
  return {
    sheet: value("--sheet"),
    ink: value("--ink"),
    quiet: value("--ink-quiet"),
    grid: value("--grid"),
    mark: value("--mark"),
    font: value("--font"),
    curves: CURVE_STYLES.map(({ variable }) => value(variable)),
  };
}

/**
 * Call back whenever the colours on the screen change: light to dark or back.
 * @param {() => void} onChange
 */
export function watchTheme(onChange) {
  for (const query of ["(prefers-color-scheme: dark)", "(prefers-contrast: more)"]) {
    matchMedia(query).addEventListener("change", onChange);
  }
}

/** Tell whether the page is dressed for paper. */
export function isOnPaper() {
  return document.documentElement.dataset.paper !== undefined;
}

/**
 * Call back right before the page goes on paper, dressed in the paper's colours, and again when it is back.
 * @param {() => void} onPaper
 * @param {() => void} onScreen
 */
export function watchPaper(onPaper, onScreen) {
  const root = document.documentElement;
  let onIt = false;
  // A browser may tell twice that it prints; the second time the screen's layout is gone already.
  const before = () => {
    if (onIt) return;
    onIt = true;
    root.dataset.paper = "";
    onPaper();
  };
  const after = () => {
    onIt = false;
    delete root.dataset.paper;
    onScreen();
  };
  addEventListener("beforeprint", before);
  addEventListener("afterprint", after);
  matchMedia("print").addEventListener("change", ({ matches }) => (matches ? before() : after()));
}
