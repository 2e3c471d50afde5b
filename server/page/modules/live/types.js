// The shapes that the live area is drawn from, as the service gives them.

/** @typedef {"edge balance" | "level" | "frequency" | "beat" | "activity" | "step and fit"} Gauge */

/** @typedef {"turn" | "turn back" | "past it" | "hold" | "done" | "wait"} Word */

/** @typedef {"clockwise" | "anticlockwise"} TurnWay */

/**
 * What a person with both hands in the chassis needs to know now. All but `time_s` and `turns_left` is in `unit`.
 * @typedef {object} Guidance
 * @property {number} time_s
 * @property {string} adjuster
 * @property {Gauge} gauge
 * @property {number | null} value
 * @property {number | null} sigma
 * @property {string} unit
 * @property {number | null} target
 * @property {number | null} within half the width of the good zone
 * @property {number | null} error value minus target
 * @property {number} full_scale what the needle's end stands for
 * @property {number | null} best
 * @property {number | null} below_best
 * @property {number | null} [closest] the smallest error so far, with its sign, where the target is known
 * @property {"nearer" | "farther" | "steady" | "unknown"} trend
 * @property {Word} word
 * @property {TurnWay | null} way
 * @property {number | null} turns_left
 * @property {string} sentence
 */

/**
 * What a run waits for.
 * @typedef {object} Question
 * @property {number} number
 * @property {string} action
 * @property {string} subject
 * @property {string} text
 * @property {string[]} answers
 * @property {Record<string, any>} [detail]
 */

/** @typedef {"step" | "done" | "cannot"} Signal */

export {};
