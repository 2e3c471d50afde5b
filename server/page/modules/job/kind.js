// What kind of step it is, in words.

import { inWords } from "../shared/words.js";

/**
 * The kind of a step; empty where the step is called after it.
 * @param {{kind: string, title: string}} step
 * @returns {string}
 */
export const kindText = ({ kind, title }) => (kind.toLowerCase() === title.toLowerCase() ? "" : inWords(kind));
