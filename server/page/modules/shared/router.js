// The address after `#` names what is in view, so that reload, bookmark and a second screen find it again.

/**
 * @typedef {object} Place
 * @property {string[]} path its parts: `#/jobs/3/filter-t1` is ["jobs", "3", "filter-t1"]
 * @property {Record<string, string>} query
 */

/** @returns {Place} */
export function readPlace() {
  const [path = "", query = ""] = location.hash.replace(/^#\/?/, "").split("?");
  return {
    path: path
      .split("/")
      .filter((part) => part !== "")
      .map(decoded),
    query: Object.fromEntries(new URLSearchParams(query)),
  };
}

/**
 * The address of a place.
 * @param {(string | number)[]} path
 * @param {Record<string, string | number | null | undefined>} [query] what is null or empty is left out
 * @returns {string}
 */
export function addressOf(path, query = {}) {
  const given = Object.entries(query).filter(([, value]) => value !== null && value !== undefined && value !== "");
  const asked = given.map(([name, value]) => `${name}=${String(value).split(",").map(encodeURIComponent).join(",")}`);
  return `#/${path.map(encodeURIComponent).join("/")}${asked.length > 0 ? `?${asked.join("&")}` : ""}`;
}

/**
 * Name this place in the address, without a step back in the browser's history.
 * @param {string} address
 */
export function rename(address) {
  if (address !== location.hash) history.replaceState(null, "", address);
}

/** @param {(place: Place) => void} onPlace called when the person follows a link, steps back or edits the address */
export function watchPlace(onPlace) {
  addEventListener("hashchange", () => onPlace(readPlace()));
}

/** @param {string} part */
function decoded(part) {
  try {
    return decodeURIComponent(part);
  } catch {
    return part;
  }
}
