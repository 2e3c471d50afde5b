// Where a page is: the way back up.

import { make } from "../shared/dom.js";

/** @param {[string, string | null][]} places name and address, the last without one */
export const trail = (places) =>
  make(
    "nav",
    { class: "trail", "aria-label": "Where this is" },
    make(
      "ol",
      {},
      ...places.map(([name, address]) =>
        address === null
          ? make("li", { "aria-current": "page" }, name)
          : make("li", {}, make("a", { href: address }, name)),
      ),
    ),
  );
