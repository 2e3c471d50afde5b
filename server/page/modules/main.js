// Where the page begins.

import { byId } from "./dom.js";
import { clientName } from "./identity.js";
import { Page } from "./page.js";
import { watchStripHeight } from "./strip_height.js";

watchStripHeight();
byId("keys-open", HTMLButtonElement).addEventListener("click", () => byId("keys", HTMLDialogElement).showModal());
new Page(await clientName()).start();
