// Building and finding elements.

/** @typedef {Node | string | number | null | undefined | false} Child */

/**
 * Make an element. Properties that start with `on` become listeners; `class`, `for`, `data-*` and `aria-*` attributes.
 * @template {keyof HTMLElementTagNameMap} Tag
 * @param {Tag} tag
 * @param {Record<string, any>} [properties]
 * @param {...Child} children
 * @returns {HTMLElementTagNameMap[Tag]}
 */
export function make(tag, properties = {}, ...children) {
  const element = document.createElement(tag);
  for (const [name, value] of Object.entries(properties)) {
    if (value === null || value === undefined || value === false) continue;
    if (name.startsWith("on")) element.addEventListener(name.slice(2), value);
    else element.setAttribute(name, value === true ? "" : String(value));
  }
  append(element, children);
  return element;
}

/**
 * @param {Element} parent
 * @param {Child[]} children
 */
function append(parent, children) {
  for (const child of children) {
    if (child === null || child === undefined || child === false) continue;
    parent.append(child instanceof Node ? child : String(child));
  }
}

/**
 * Put these children, and only these, into the parent.
 * @param {Element} parent
 * @param {...Child} children
 */
export function fill(parent, ...children) {
  parent.replaceChildren();
  append(parent, children);
}

/**
 * Set an element's text only where it differs, so that screen readers are not told twice.
 * @param {Element} element
 * @param {string} text
 */
export function setText(element, text) {
  if (element.textContent !== text) element.textContent = text;
}

/**
 * The element with this id, which the page must have.
 * @template {HTMLElement} T
 * @param {string} id
 * @param {{new (): T}} type
 * @returns {T}
 */
export function byId(id, type) {
  const found = document.getElementById(id);
  if (!(found instanceof type)) throw new Error(`The page has no ${type.name} with the id "${id}".`);
  return found;
}

const SVG = "http://www.w3.org/2000/svg";

/**
 * Make a part of a drawing, or the drawing itself.
 * @template {keyof SVGElementTagNameMap} Tag
 * @param {Tag} tag
 * @param {Record<string, string | number>} attributes
 * @param {...Child} children
 * @returns {SVGElementTagNameMap[Tag]}
 */
export function part(tag, attributes, ...children) {
  const element = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) element.setAttribute(name, String(value));
  append(element, children);
  return element;
}

/**
 * A picture from the page's own sheet of symbols, hidden from screen readers: a word always stands beside it.
 * @param {string} name
 * @returns {SVGSVGElement}
 */
export function symbol(name) {
  return part("svg", { class: "symbol", "aria-hidden": "true", viewBox: "0 0 24 24" }, part("use", { href: `#symbol-${name}` }));
}
