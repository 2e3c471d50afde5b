// Touching an element only where something differs: at twenty readings a second the rest must stand still.

/**
 * @param {HTMLElement} element
 * @param {boolean} hidden
 */
export function hide(element, hidden) {
  if (element.hidden !== hidden) element.hidden = hidden;
}

/**
 * @param {HTMLElement} element
 * @param {string} name of a data attribute
 * @param {string} value
 */
export function tell(element, name, value) {
  if (element.dataset[name] !== value) element.dataset[name] = value;
}

/**
 * @param {HTMLElement} element
 * @param {string} name of a style property
 * @param {number} value
 */
export function move(element, name, value) {
  const text = value.toFixed(4);
  if (element.style.getPropertyValue(name) !== text) element.style.setProperty(name, text);
}
