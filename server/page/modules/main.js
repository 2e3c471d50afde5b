// Where the page begins.

import { byId } from "./shared/dom.js";
import { clientName } from "./shared/identity.js";
import { Page } from "./page.js";
import { watchStripHeight } from "./shared/strip_height.js";

watchStripHeight();
// The address after # names what is in view; the way past the strip must not change it.
byId("skip", HTMLAnchorElement).addEventListener("click", (event) => {
  event.preventDefault();
  byId("main", HTMLElement).focus();
});
byId("keys-open", HTMLButtonElement).addEventListener("click", () => byId("keys", HTMLDialogElement).showModal());
new Page(await clientName()).start();
