// The shapes of receivers, plans and jobs, as the service gives them.

/** @typedef {{id: string, name: string, supply: string, cautions: string[], steps: number}} ReceiverLine */

/**
 * @typedef {object} StepHookup
 * @property {string | null} source_to
 * @property {string | null} source_through
 * @property {string | null} meter_to
 * @property {string | null} meter_through
 * @property {string | null} counter_to
 * @property {string | null} counter_through
 * @property {Record<string, string | number>} controls
 */

/** @typedef {{name: string, because: string, measured: string, hookup: StepHookup, cautions: string[]}} Way */

/**
 * @typedef {object} Adjuster
 * @property {string} name
 * @property {string} kind
 * @property {boolean} measure_only
 * @property {string[]} bands
 * @property {string | null} end
 * @property {number} nudge_turns
 * @property {string} clockwise
 */

/**
 * @typedef {object} Step
 * @property {string} id
 * @property {string} kind
 * @property {string} title
 * @property {string} subject
 * @property {number | null} nominal_khz
 * @property {number} places_from_detector
 * @property {string[]} depends_on
 * @property {{figure: string, most: number, unit: string, sentence: string}[]} limits
 * @property {string} good
 * @property {Adjuster[]} adjusters
 * @property {Way[]} ways
 */

/**
 * @typedef {object} Finding
 * @property {string} name
 * @property {string} where
 * @property {"as found" | "as left" | null} when of a figure of an adjusting run; null for its end
 * @property {string} unit
 * @property {number | null} value
 * @property {number | null} sigma
 * @property {number | null} limit
 * @property {string | null} standing
 * @property {string | null} verdict
 * @property {string | null} sentence
 * @property {string | null} reason
 */

/** @typedef {{mark_khz: number, error_khz: number, sigma_khz: number | null}} DialMark */

/** The errors of a dial by its marks; the limit holds either way. @typedef {{limit_khz: number, found: DialMark[], left: DialMark[]}} DialErrors */

/** @typedef {{found: Finding | null, left: Finding | null}} FoundAndLeft */
/** @typedef {FoundAndLeft & {name: string, where: string}} Figure */
/** @typedef {{band: string, volts: FoundAndLeft, activity: FoundAndLeft}} BandRow */

/**
 * The bands of a crystal oscillator.
 * @typedef {object} Bands
 * @property {string} against what the level is, and against which band
 * @property {string | null} limit in words
 * @property {number | null} limit_db
 * @property {BandRow[]} rows
 */

/** @typedef {{id: string | number, phase: string | null, way: string | null, started_utc: string, ending: string | null}} StepRun */
/** @typedef {{id: string | number, at_utc: string, text: string}} Remark */
/** @typedef {{id: string | number, at_utc: string, name: string}} Photo */

/**
 * @typedef {object} StepState
 * @property {string | null} ending
 * @property {string | null} verdict
 * @property {boolean} on
 * @property {string | null} way
 * @property {Finding[]} as_found
 * @property {Finding[]} as_left
 * @property {Finding[]} adjusted
 * @property {Figure[]} figures as found beside as left
 * @property {DialErrors | null} dial of a dial step
 * @property {Bands | null} bands of an activity step
 * @property {{adjuster: string, turns: number | null}[]} turned
 * @property {string[]} advice
 * @property {string[]} doubts
 * @property {string | null} reason
 * @property {string[]} refused why it cannot come now
 * @property {string[]} waits_for steps whose turn comes first
 * @property {string[]} warnings
 * @property {string[]} undone_by
 * @property {StepRun[]} runs
 * @property {Remark[]} remarks
 * @property {Photo[]} photos
 */

/** @typedef {Step & {state: StepState}} JobStep */

/**
 * @typedef {object} JobHeader
 * @property {string | number} id
 * @property {string} receiver_id
 * @property {string} receiver_name
 * @property {string | null} owner
 * @property {string | null} make
 * @property {string | null} serial
 * @property {string | null} operator
 * @property {number | null} room_temperature_c
 * @property {string | null} calibration_note
 * @property {string | null} [remark] what the owner says, what was seen at the beginning
 * @property {string} started_utc
 * @property {string | null} ended_utc
 * @property {"open" | "paused" | "done"} state
 * @property {string | null} mode
 */

/**
 * @typedef {JobHeader & {
 *   counts?: Record<string, number>,
 *   steps_done?: number,
 *   steps?: number,
 * }} JobLine
 */

/** @typedef {JobHeader & {next_step: string | null, steps: JobStep[], remarks: Remark[], photos: Photo[]}} Job */

/**
 * What a job is begun with, and may be changed to.
 * @typedef {object} JobFields
 * @property {string} [receiver_id]
 * @property {string} [owner]
 * @property {string} [make]
 * @property {string} [serial]
 * @property {string} [operator]
 * @property {number | null} [room_temperature_c]
 * @property {string} [calibration_note]
 * @property {string} [remark]
 * @property {"open" | "paused" | "done"} [state]
 */

/**
 * One figure of one job, for the history of a receiver.
 * @typedef {object} HistoryRow
 * @property {string | number} job_id
 * @property {string} at_utc
 * @property {string} step_id
 * @property {string} phase
 * @property {string} name
 * @property {string} where
 * @property {string} unit
 * @property {number | null} value
 * @property {number | null} sigma
 * @property {string | null} verdict
 */

/**
 * Of many jobs, the figures of some, spread evenly from the first to the last.
 * @typedef {object} HistoryFound
 * @property {HistoryRow[]} figures
 * @property {number} jobs
 * @property {number} jobs_shown
 */

export {};
