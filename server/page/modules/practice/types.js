// The shapes of the practice bench, as the service gives them.

/**
 * @typedef {object} PracticeAdjuster
 * @property {string} name
 * @property {string} kind
 * @property {string} unit what one turn of it is told in: a turn, or a mark of its scale
 * @property {number} travel_turns from end to end
 * @property {number} position_turns from the middle of its travel
 * @property {boolean} factory_only
 * @property {number} [made_turns] by hand so far
 */

/**
 * A switch with places, or a knob between two marks.
 * @typedef {object} PracticeControl
 * @property {string} name
 * @property {string | number} value
 * @property {string[]} [choices]
 * @property {number} [low]
 * @property {number} [high]
 * @property {string} [unit]
 */

/** @typedef {{to: string | null, through: string | null}} PracticeLead */

/**
 * @typedef {object} Practice
 * @property {{id: string, name: string}[]} receivers
 * @property {{id: string, name: string, points: Record<string, string[]>, controls: PracticeControl[],
 *   adjusters: PracticeAdjuster[]}} receiver
 * @property {Record<string, PracticeLead>} leads
 * @property {number} seed
 */

/**
 * @typedef {object} PracticeCalls
 * @property {() => Promise<Practice>} read
 * @property {(adjuster: string, turns: number) => Promise<{moved_turns: number}>} turn
 * @property {(control: string, to: string | number) => Promise<unknown>} set
 * @property {(role: string, to: string | null, through: string | null) => Promise<unknown>} connect
 * @property {(number: number) => Promise<unknown>} doIt
 * @property {() => Promise<Record<string, any>>} truth
 * @property {(seed: number, receiverId: string) => Promise<unknown>} reseed
 */

export {};
