// Times, endings and counts in plain words.

/**
 * How long a run still takes.
 * @param {number | null | undefined} seconds
 * @returns {string}
 */
export function timeLeft(seconds) {
  if (seconds === null || seconds === undefined) return "time left not known yet";
  if (seconds < 1.5) return "about a second left";
  if (seconds < 10) return "a few seconds left";
  if (seconds < 55) return `about ${Math.round(seconds / 5) * 5} seconds left`;
  if (seconds < 90) return "about a minute left";
  const minutes = Math.round(seconds / 60);
  if (minutes < 60) return `about ${minutes} minutes left`;
  const hours = Math.round(minutes / 30) / 2;
  return hours === 1 ? "about an hour left" : `about ${hours} hours left`;
}

/**
 * @param {number} count
 * @param {string} one
 * @param {string} [many]
 * @returns {string}
 */
export function counted(count, one, many = `${one}s`) {
  return `${count} ${count === 1 ? one : many}`;
}

/**
 * A name as the first word of a line.
 * @param {string} name
 * @returns {string}
 */
export const capital = (name) => name.charAt(0).toUpperCase() + name.slice(1);

/** A kind of step or the name of a control, its abbreviations in capitals. @param {string} name */
export const inWords = (name) => name.replace(/[._]/g, " ").replace(/\b(agc|if)\b/g, (short) => short.toUpperCase());

/** Names in a sentence: a, b and c. @param {(string | number)[]} names */
export function listed(names) {
  const [last, ...others] = names.map(String).reverse();
  return others.length === 0 ? (last ?? "") : `${others.reverse().join(", ")} and ${last}`;
}

/**
 * A kept moment as local date and time.
 * @param {string} utc
 * @returns {string}
 */
export function moment(utc) {
  const date = new Date(/[zZ]|[+-]\d\d:?\d\d$/.test(utc) ? utc : `${utc}Z`);
  if (Number.isNaN(date.getTime())) return utc;
  const day = date.toLocaleDateString(undefined, { day: "numeric", month: "short", year: "numeric" });
  const time = date.toLocaleTimeString(undefined, { hour: "2-digit", minute: "2-digit", hour12: false });
  return `${day}, ${time}`;
}

/** The shape and word of each way a run ends. */
const ENDINGS = Object.freeze({
  completed: { symbol: "done", word: "completed" },
  stopped: { symbol: "stop", word: "stopped" },
  failed: { symbol: "cross", word: "failed" },
  interrupted: { symbol: "cross", word: "interrupted" },
});

/**
 * @param {import("./types.js").Ending | null} ending
 * @returns {{symbol: string, word: string}}
 */
export function endingWords(ending) {
  return ending === null ? { symbol: "running", word: "running" } : ENDINGS[ending];
}

/** @type {Readonly<Record<string, string>>} */
const LAWS = Object.freeze({
  linear: "linear detector",
  square: "square-law detector",
  calibrate: "law found by stepping the source",
});

/** @param {string} law */
export const lawWords = (law) => LAWS[law] ?? law;
