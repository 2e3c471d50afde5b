// The address after `#` names the scan in view and those laid over it, so that reload and bookmark find them again.

/** @typedef {{scan: string | null, over: string[]}} Place */

/** @returns {Place} */
export function readPlace() {
  const match = /^#\/scans\/([^?]+)(?:\?over=(.*))?$/.exec(location.hash);
  if (match === null) return { scan: null, over: [] };
  const over = (match[2] ?? "").split(",").filter((id) => id !== "");
  return { scan: decodeURIComponent(match[1] ?? ""), over: over.map(decodeURIComponent) };
}

/**
 * Name this place in the address, without a step back in the browser's history for each overlay.
 * @param {Place} place
 */
export function writePlace({ scan, over }) {
  const query = over.length > 0 ? `?over=${over.map(encodeURIComponent).join(",")}` : "";
  const hash = scan === null ? "" : `#/scans/${encodeURIComponent(scan)}${query}`;
  if (hash !== location.hash) history.replaceState(null, "", hash === "" ? location.pathname + location.search : hash);
}

/** @param {(place: Place) => void} onPlace called when the person edits the address or follows a link */
export function watchPlace(onPlace) {
  addEventListener("hashchange", () => onPlace(readPlace()));
}
