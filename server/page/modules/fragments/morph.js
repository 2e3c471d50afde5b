// One element made like another with as little change as can be: focus, scroll, folds and what was typed stay.

/** What the page itself keeps up: `data-own` parts, folds, dialogs, a field's own refusal. */
const KEPT = new Set(["open", "aria-invalid"]);

/** @param {Node} node */
const keyOf = (node) => (node instanceof Element ? (node.getAttribute("data-key") ?? node.id) : "");

/**
 * @param {Node} one
 * @param {Node} other
 */
const isSame = (one, other) => one.nodeName === other.nodeName && keyOf(one) === keyOf(other);

/**
 * Make the content of an element like that of another; the focus goes back to what has the same key.
 * @param {Element} now
 * @param {Element} next
 */
export function morph(now, next) {
  const focused = document.activeElement;
  const key = focused !== null && now.contains(focused) ? keyOf(focused) : "";
  become(now, next);
  if (key === "" || document.activeElement === focused) return;
  const again = now.querySelector(`[id="${CSS.escape(key)}"], [data-key="${CSS.escape(key)}"]`);
  if (again instanceof HTMLElement) again.focus({ preventScroll: true });
}

/**
 * @param {Element} now
 * @param {Element} next
 */
function become(now, next) {
  const isOwn = now.hasAttribute("data-own");
  for (const { name, value } of [...next.attributes])
    if (now.getAttribute(name) !== value && !KEPT.has(name) && !(isOwn && name === "hidden")) now.setAttribute(name, value);
  if (isOwn) return;
  for (const { name } of [...now.attributes]) if (!next.hasAttribute(name) && !KEPT.has(name)) now.removeAttribute(name);
  children(now, next);
}

/**
 * @param {Element} now
 * @param {Element} next
 */
function children(now, next) {
  const wanted = new Set([...next.children].map(keyOf));
  let place = now.firstChild;
  for (const child of [...next.childNodes]) {
    const known = knownIn(now, place, child);
    while (place !== null && known !== null && place !== known && !(keyOf(place) !== "" && wanted.has(keyOf(place))))
      place = removed(place);
    if (known === null) now.insertBefore(document.importNode(child, true), place);
    else if (known !== place) now.insertBefore(known, place);
    else place = place.nextSibling;
    if (known instanceof Element && child instanceof Element) become(known, child);
    else if (known !== null && known.nodeValue !== child.nodeValue) known.nodeValue = child.nodeValue;
  }
  while (place !== null) place = removed(place);
}

/**
 * Of what is not placed yet, what stands for this child: the one of its key, or the next of its kind without one.
 * @param {Element} parent
 * @param {ChildNode | null} from
 * @param {ChildNode} child
 * @returns {ChildNode | null}
 */
function knownIn(parent, from, child) {
  for (let each = from; each !== null && each.parentNode === parent; each = each.nextSibling) if (isSame(each, child)) return each;
  return null;
}

/** @param {ChildNode} node */
function removed(node) {
  const following = node.nextSibling;
  node.remove();
  return following;
}
