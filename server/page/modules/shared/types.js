// The shapes that cross the wire, as the service gives them. Frequencies in Hz, powers in dBm, times in seconds.

/** @typedef {"ready" | "missing" | "lost"} InstrumentState */

/**
 * @typedef {object} Instrument
 * @property {string} role
 * @property {string} address
 * @property {string | null} identity
 * @property {InstrumentState} state
 * @property {string | null} detail
 */

/**
 * The source may be on, and has not confirmed otherwise.
 * @typedef {object} OutputAlarm
 * @property {string | null} since_utc
 * @property {string} text
 */

/**
 * @typedef {object} Bench
 * @property {"practice" | "bench"} mode
 * @property {Instrument[]} instruments
 * @property {boolean | null} output_on null where the source has not said
 * @property {OutputAlarm | null} [output_alarm]
 * @property {string | number | null} busy_run
 * @property {{present: boolean, you: boolean}} operator
 * @property {string | null} last_error
 * @property {Session | null} [session] the step that is on the bench
 */

/**
 * A question the step that is on asks of the person.
 * @typedef {object} Asked
 * @property {number} number
 * @property {string} action
 * @property {string} subject
 * @property {string} text
 * @property {string[]} answers
 * @property {Record<string, any>} detail
 */

/**
 * @typedef {object} Session
 * @property {string | number} job
 * @property {string} step
 * @property {string} title
 * @property {"as found" | "adjust" | "as left" | null} phase
 * @property {string | null} way
 * @property {"live" | "counted"} turning
 * @property {string | number | null} run
 * @property {Asked | null} asked
 */

/**
 * @typedef {object} Hookup
 * @property {string | null} source_to
 * @property {string | null} source_through
 * @property {string | null} meter_to
 * @property {Record<string, string | number>} controls
 */

/** @typedef {"linear" | "square" | "calibrate"} DetectorLaw */

/**
 * @typedef {object} Target
 * @property {string} id
 * @property {string} receiver
 * @property {string} name
 * @property {"if passband" | "preselector"} kind
 * @property {number} start_hz
 * @property {number} stop_hz
 * @property {number} level_dbm
 * @property {number} max_level_dbm
 * @property {number} settle_s
 * @property {DetectorLaw} detector
 * @property {number | null} nominal_centre_hz
 * @property {number | null} nominal_width_hz
 * @property {Hookup} hookup
 * @property {string[]} cautions
 */

/**
 * What a scan is asked for with, and was taken with.
 * @typedef {object} ScanSettings
 * @property {number} [start_hz]
 * @property {number} [stop_hz]
 * @property {number} [centre_hz]
 * @property {number} [span_hz]
 * @property {number} level_dbm
 * @property {number} settle_s
 * @property {DetectorLaw} detector
 * @property {number | null} readings
 * @property {number | null} until_centre_percent
 * @property {Hookup | null} [hookup]
 */

/** @typedef {ScanSettings & {target: string}} ScanOrder */

/**
 * One meter reading of a scan. `level_db` is null until, or unless, the detector law could be undone.
 * @typedef {object} Reading
 * @property {number} index
 * @property {number} time_s
 * @property {number | null} frequency_hz
 * @property {number | null} power_dbm
 * @property {number | null} value_v
 * @property {string} mark
 * @property {string} purpose
 * @property {number | null} level_db
 * @property {boolean | null} used
 */

/** @typedef {{frequency_hz: number[], level_db: number[], sigma_db: number[]}} FittedCurve */

/**
 * @typedef {object} Result
 * @property {string | null} model
 * @property {number | null} peak_hz
 * @property {number | null} peak_sigma_hz
 * @property {number | null} centre_hz
 * @property {number | null} centre_sigma_hz
 * @property {number | null} lower_3db_hz
 * @property {number | null} upper_3db_hz
 * @property {number | null} width_3db_hz
 * @property {number | null} width_3db_sigma_hz
 * @property {number | null} width_6db_hz
 * @property {number | null} width_6db_sigma_hz
 * @property {number | null} loaded_q
 * @property {number | null} loaded_q_sigma
 * @property {number | null} peak_level_db
 * @property {number | null} noise_db
 * @property {number | null} readings
 * @property {unknown[]} [evidence]
 * @property {string[]} doubts
 * @property {FittedCurve | null} curve
 */

/**
 * `interrupted`: the service itself died while the run was on.
 * @typedef {"completed" | "stopped" | "failed" | "interrupted"} Ending
 */

/**
 * @typedef {object} ScanSummary
 * @property {string | number} id
 * @property {string} started_utc
 * @property {string} target_name
 * @property {string} receiver
 * @property {Ending | null} ending
 * @property {number | null} centre_hz
 * @property {number | null} centre_sigma_hz
 * @property {number | null} width_3db_hz
 * @property {number} readings
 * @property {ScanSettings} settings
 * @property {string | number | null} [job_id] the job it is part of, null for a scan by itself
 */

/**
 * @typedef {object} ScanDocument
 * @property {string | number} id
 * @property {string} started_utc
 * @property {Ending | null} ending
 * @property {string | null} ending_text
 * @property {string} target
 * @property {string} target_name
 * @property {string} receiver
 * @property {ScanSettings} settings
 * @property {Instrument[]} instruments
 * @property {Reading[]} readings
 * @property {string[]} [notices]
 * @property {Result | null} result
 * @property {string | number | null} [job_id]
 * @property {string | null} [step_id]
 * @property {string | null} [phase]
 * @property {{figures: Result, first_index: number, last_index: number}[]} [curves] the whole sweeps of a step's run
 */

/** @typedef {{kind: string} & Record<string, any>} RunEvent */

/** @typedef {{run: string | number, seq: number, event: RunEvent}} LiveEvent */

/**
 * `job`: this job changed, read it again. `missed`: the service no longer has all that came since the stream broke, so read everything again.
 * @typedef {LiveEvent | {bench: Bench} | {job: string | number} | {missed: true}} LiveItem
 */

export {};
