// Where the page begins.

import { byId } from "./shared/dom.js";
import { clientName } from "./shared/identity.js";
import { Page } from "./page.js";
import { watchStripHeight } from "./shared/strip_height.js";

watchStripHeight();
byId("keys-open", HTMLButtonElement).addEventListener("click", () => byId("keys", HTMLDialogElement).showModal());
new Page(await clientName()).start();
