"""Scan a response with the source, undo the detector's law, and fit centre and widths.

Without a number of readings the scan chooses each frequency itself, from what the readings so far leave uncertain;
with one it reads an even sweep.
"""

from collections.abc import Callable, Generator
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Any

import numpy as np

from sequences.engine.events import CurveFitted, Notice, PartialFit, Progress, ReadingTaken
from sequences.engine.requests import Request
from sequences.engine.run import Procedure
from sequences.engine.steps import read_meter, set_frequency, set_output, set_power, settle, tell
from sequences.errors import SequenceError
from sequences.numerics.levels.law_uncertainty import share_of_law
from sequences.numerics.levels.level_laws import LevelLaw, LinearLaw, SquareLaw
from sequences.numerics.levels.level_step import LevelStep, without_widths
from sequences.numerics.levels.rise_law import RiseLaw
from sequences.numerics.levels.way_back import WayBack, doubt_of, widen
from sequences.numerics.responses.passband import PassbandFit
from sequences.numerics.search.next_reading import (
    Finished,
    Measure,
    ScanGoal,
    Search,
    begin,
    choose,
    current_fit,
    observe,
    own_span,
    progress,
    with_goal,
)
from sequences.procedures.sweeps.calibration import HEADROOM_DB, SHARE_OF_SCAN, calibrate
from sequences.procedures.sweeps.hand_readings import CENTRE_GOAL as HAND_CENTRE_GOAL
from sequences.procedures.sweeps.hand_readings import FEW_READINGS, readings_by_hand, round_step_hz
from sequences.procedures.sweeps.hand_readings import WIDTH_GOAL as HAND_WIDTH_GOAL
from sequences.procedures.sweeps.scan_figures import CURVE_POINTS, scan_figures
from sequences.procedures.sweeps.scan_log import Level, ScanLog, law_sigma_at
from sequences.procedures.sweeps.settling import (
    CHECK_READINGS,
    LONGER,
    LONGEST_SETTLE_S,
    START_SETTLE_S,
    UNKNOWN_NOISE_DB,
    creep_db,
    is_creeping,
)
from sequences.procedures.sweeps.trust import FEWEST_SWEPT, STEP_ROUNDS, read_way_back, step_at_peak

Steps = Generator[Request, Any, None]

CENTRE_GOAL = 0.01
WIDTH_GOAL = 0.02
"""What a scan aims at where nothing was asked: one sigma as a share of the 3 dB width."""

READINGS_BUDGET = 400
"""Readings after which a scan that chooses its own frequencies gives what it has."""

KEPT_CURVE_POINTS = 101
"""Points of the curve that the record keeps of each sweep of a job, to be drawn on paper."""

SHOW_EVERY_S = 0.1
FIT_EVERY_S = 2.0
"""How often progress and the fit so far are shown; a fit takes tens of milliseconds of the meter's time."""

_HARDLY = 0.2
"""Of the uncertainty asked for: what the law takes up below that raises the whole by 2 % at most."""

_LEAST_ROOM = 0.25
"""Of the variance asked for: less than that left to the readings would take more than four times as many."""

CHECK_STEP_DB = 10.0
CHECK_TOLERANCE_DB = 0.5
ENOUGH_TO_CHECK = 90
"""Readings of an even sweep beside which the time to see whether the meter had settled hardly counts: ten waits."""

LONGEST_SETTLE_ASKED_S = 60.0
FEWEST_READINGS = 3
MOST_READINGS = 100_000


class Detector(StrEnum):
    """The detector laws a scan can undo."""

    LINEAR = "linear"
    SQUARE = "square"
    CALIBRATE = "calibrate"


@dataclass(frozen=True, slots=True)
class ScanSettings:
    """What to scan. `level_dbm` is what reaches the receiver.

    `settle_s` None lets the scan find out how long the meter takes to settle; `readings` None lets it choose its
    frequencies. `by_hand`: a person sets the source or reads the meter, who is asked for few readings and is no meter
    that creeps; `step_hz` is the finest step that can be set, None for round ones. `check_step`: see at the end
    whether the level follows a step of the source, as that of a sound input with a gain of its own does not.
    `highest_dbm`: how far the source may be raised for the detector's law to be learnt, None not at all.
    """

    start_hz: float
    stop_hz: float
    level_dbm: float
    settle_s: float | None = None
    detector: Detector = Detector.LINEAR
    readings: int | None = None
    until_centre_fraction: float | None = None
    by_hand: bool = False
    step_hz: float | None = None
    check_step: bool = False
    highest_dbm: float | None = None

    def __post_init__(self) -> None:
        """Refuse settings that no scan can carry out.

        Raises:
            SequenceError: with the sentence for the person.
        """
        for wrong, sentence in _checks(self):
            if wrong:
                raise SequenceError(sentence)


def _checks(settings: ScanSettings) -> tuple[tuple[bool, str], ...]:
    settle_s = START_SETTLE_S if settings.settle_s is None else settings.settle_s
    readings = FEWEST_READINGS if settings.readings is None else settings.readings
    fraction = settings.until_centre_fraction
    return (
        (
            not np.all(np.isfinite((settings.start_hz, settings.stop_hz, settings.level_dbm, settle_s))),
            "Start, stop, level and settling time must be plain numbers.",
        ),
        (
            not 0 < settings.start_hz < settings.stop_hz,
            f"A sweep from {settings.start_hz:g} Hz to {settings.stop_hz:g} Hz is none: stop must lie above start.",
        ),
        (
            not 0 <= settle_s <= LONGEST_SETTLE_ASKED_S,
            f"The settling time {settle_s:g} s must be from 0 to {LONGEST_SETTLE_ASKED_S:g} s.",
        ),
        (
            not FEWEST_READINGS <= readings <= MOST_READINGS,
            f"An even sweep takes from {FEWEST_READINGS} to {MOST_READINGS} readings, not {readings}.",
        ),
        (
            fraction is not None and not 0 < fraction < 1,
            "The wanted uncertainty of the centre must lie between 0 and 100 % of the 3 dB width.",
        ),
        (settings.step_hz is not None and not settings.step_hz > 0, "The source's step must be more than 0 Hz."),
        (
            fraction is not None and settings.readings is not None,
            "Ask for an even sweep of so many readings or for an uncertainty to reach, not for both.",
        ),
    )


@dataclass(frozen=True, slots=True)
class ScanResult:
    """What a scan found. `readings` counts every meter reading, those of a calibration included.

    Those that check it (way back, settling, level step) are not counted: an even sweep has as many as asked.
    `levels` are those the fit was made from, undone by `law`.
    """

    fit: PassbandFit
    readings: int
    doubts: tuple[str, ...]
    start_hz: float
    stop_hz: float
    levels: tuple[Level, ...]
    law: LevelLaw
    power_off_db: float
    """By how much the source was above the power that the levels are told for."""

    def figures(self, curve_points: int = CURVE_POINTS) -> dict[str, Any]:
        """Give the result as plain values with units in their names, None where the data support none."""
        return scan_figures(self.fit, self.readings, self.doubts, (self.start_hz, self.stop_hz), curve_points)


@dataclass(slots=True)
class _Course:
    """How the scan is going: its log, its present settling time, and when it last showed something."""

    settings: ScanSettings
    log: ScanLog
    settle_s: float
    progress_from: float = 0.0
    settled: bool = False
    sharpened: bool = False
    doubts: list[str] = field(default_factory=list)
    step: LevelStep | None = None
    back: WayBack | None = None
    began_s: float | None = None
    shown_s: float = 0.0
    fitted_s: float = 0.0

    def result(self) -> ScanResult:
        return self.result_of(self._as_trusted(self.log.fit()))

    def _as_trusted(self, fit: PassbandFit) -> PassbandFit:
        """The fit with what the checks found: wider, or without its widths."""
        if self.back is not None and self.back.is_apart:
            fit = widen(fit, self.back, self.settings.stop_hz - self.settings.start_hz)
        return without_widths(fit) if self.step is not None and not self.step.is_right else fit

    def result_of(self, fit: PassbandFit) -> ScanResult:
        doubts = (*(doubt.text for doubt in fit.doubts), *self.doubts, *self.log.doubts())
        return ScanResult(
            fit=fit,
            readings=self.log.readings,
            doubts=doubts,
            start_hz=self.settings.start_hz,
            stop_hz=self.settings.stop_hz,
            levels=tuple(self.log.levels),
            law=self.log.law,
            power_off_db=self.log.power_off_db,
        )


def scan(settings: ScanSettings) -> Procedure[ScanResult]:
    """Scan and fit.

    Raises:
        SequenceError: the meter overloads, or the detector's law cannot be learnt; the text says what to do.
    """
    law = SquareLaw() if settings.detector is Detector.SQUARE else LinearLaw()
    settle_s = START_SETTLE_S if settings.settle_s is None else settings.settle_s
    course = _Course(settings, ScanLog(law, settings.level_dbm), settle_s)
    yield from set_frequency(settings.start_hz)
    yield from set_power(settings.level_dbm)
    if settings.detector is Detector.CALIBRATE:
        yield from _learn_law(course)
    else:
        yield from set_output(True)
        yield from settle(settle_s)
    if settings.by_hand:
        yield from _by_hand(course)
    elif settings.readings is None:
        yield from _chosen_readings(course)
    else:
        yield from _even_sweep(course, settings.readings)
    if settings.check_step:
        yield from _check_step(course)
    elif settings.detector is not Detector.CALIBRATE and not settings.by_hand:
        yield from _check_law(course)
    yield from set_output(False)
    result = course.result()
    yield from tell(CurveFitted(result.figures(KEPT_CURVE_POINTS)))
    return result


def _learn_law(course: _Course) -> Steps:
    """Learn the law; what was read over the sweep on the way counts as readings of the response."""
    settings = course.settings
    calibration = yield from calibrate(
        settings.start_hz, settings.stop_hz, settings.level_dbm, course.settle_s, settings.highest_dbm
    )
    course.log.nominal_power_dbm = calibration.scan_power_dbm + HEADROOM_DB
    course.settings = replace(settings, level_dbm=course.log.nominal_power_dbm)
    course.log.law = calibration.law
    course.log.readings = calibration.readings
    course.progress_from = SHARE_OF_SCAN
    yield from set_power(calibration.scan_power_dbm)
    if settings.readings is None:
        for reading in calibration.over_sweep:
            yield from course.log.take(reading)


def _check_step(course: _Course) -> Steps:
    """Say so where the level does not follow a step of the source: a gain that sets itself flattens every curve."""
    fit, settings = course.log.fit(), course.settings
    if fit.peak is None:
        return
    yield from set_frequency(fit.peak.value)
    levels_db = []
    for lower_db in (0.0, CHECK_STEP_DB):
        yield from set_power(settings.level_dbm - lower_db)
        yield from settle(max(course.settle_s, START_SETTLE_S))
        reading = yield from read_meter("level step")
        level_db = None if reading.value is None else course.log.law.to_level_db(reading.value).level_db
        levels_db.append(level_db)
    high_db, low_db = levels_db
    if high_db is None or low_db is None:
        course.doubts.append("The level step at the source could not be read, so the meter's linearity is not known.")
    elif abs(high_db - low_db - CHECK_STEP_DB) > CHECK_TOLERANCE_DB:
        course.doubts.append(
            f"A step of {CHECK_STEP_DB:g} dB at the source changed the level by {high_db - low_db:.1f} dB. "
            "Switch AGC and every automatic gain off, or turn the volume down."
        )


def _by_hand(course: _Course) -> Steps:
    """Have a person take the readings."""
    settings, fraction = course.settings, course.settings.until_centre_fraction
    goal = ScanGoal(
        start_hz=settings.start_hz,
        stop_hz=settings.stop_hz,
        centre_fraction=HAND_CENTRE_GOAL if fraction is None else fraction,
        width_fraction=HAND_WIDTH_GOAL if fraction is None else None,
        budget=FEW_READINGS,
    )
    places_hz = None
    if settings.readings is not None:
        places_hz = tuple(np.linspace(settings.start_hz, settings.stop_hz, settings.readings).tolist())
    step_hz = settings.step_hz or round_step_hz(settings.start_hz, settings.stop_hz)
    yield from readings_by_hand(course.log, goal, course.settle_s, step_hz, places_hz)


def _even_sweep(course: _Course, readings: int) -> Steps:
    frequencies_hz = np.linspace(course.settings.start_hz, course.settings.stop_hz, readings).tolist()
    is_due = False
    for done, frequency_hz in enumerate(frequencies_hz, 1):
        reading = yield from _read_at(course, frequency_hz, course.log.fit if is_due else None)
        if is_due:  # of the readings before this one: fitted while the meter was at work
            yield from _show_fit(course, reading, course.log.fit())
        yield from course.log.take(reading)
        if done == readings or reading.time_s - course.shown_s >= SHOW_EVERY_S:
            yield from _show_progress(course, reading, done / readings, f"Reading {done} of {readings}")
        is_due = reading.time_s - course.fitted_s >= FIT_EVERY_S
    yield from _doubt_one_way(course, readings)


def _doubt_one_way(course: _Course, readings: int) -> Steps:
    """Read the skirts again on the way back: a sweep one way cannot show a lag or a drift that shifts it."""
    fit = course.log.fit()
    if fit.centre is None:
        return
    if readings >= FEWEST_SWEPT and course.began_s is not None and not course.settings.by_hand:
        ended_s = course.log.levels[-1].time_s
        course.back = yield from read_way_back(fit, course.log.law, course.settle_s, course.began_s, ended_s)
    apart = course.back is not None and course.back.is_apart
    if not apart and course.settings.settle_s is not None and readings < ENOUGH_TO_CHECK:
        return
    creep = yield from _creep(course, fit.centre.value)
    creeping = is_creeping(creep, fit.noise_db)
    if course.back is not None and apart:
        course.doubts.append(doubt_of(course.back, fit, creeping=creeping).text)
    if creeping:
        course.doubts.append(f"{_moved(course, creep)} Allow a longer settling time.")


def _check_law(course: _Course) -> Steps:
    """See whether a step of the source is read as it is made; where it is not, no width is stated."""
    fit = course.log.fit()
    course.step = yield from step_at_peak(fit, course.log.law, course.settings.level_dbm, course.settle_s)
    if course.settings.readings is None and fit.centre is not None:
        course.log.readings += 2 * STEP_ROUNDS
    doubt = None if course.step is None else course.step.doubt()
    if doubt is not None:
        course.doubts.append(doubt.text)


def _creep(course: _Course, peak_hz: float) -> Generator[Request, Any, float | None]:
    ends_hz = (course.settings.start_hz, course.settings.stop_hz)
    away_hz = max(ends_hz, key=lambda end_hz: abs(end_hz - peak_hz))
    return (yield from creep_db(away_hz, peak_hz, course.settle_s, course.log.law))


def _moved(course: _Course, creep: float | None) -> str:
    return f"The level still moved by {creep:.1f} dB after {course.settle_s:g} s: the meter had not settled."


def _chosen_readings(course: _Course) -> Steps:
    search = _begin(course)
    while True:
        move = choose(search)
        if not course.settled and _ready_for_check(search, move):
            search = yield from _check_settling(course, search)
            move = choose(search)
        sharper = _sharper_for_law(course, search) if isinstance(move, Finished) else None
        if sharper is not None:
            search = sharper
            continue
        if isinstance(move, Finished):
            course.log.leave_out_beyond(*own_span(search))
            course.doubts += [rival.text for rival in search.rivals]
            yield from tell(Progress(1.0, 0.0, f"{course.log.readings} readings"))
            return
        reading = yield from _read_at(course, move.frequency_hz)
        search = _observe(search, move.frequency_hz, (yield from course.log.take(reading)))
        if reading.time_s - course.shown_s >= SHOW_EVERY_S:
            yield from _show_progress(course, reading, progress(search), f"Reading {course.log.readings}")
        if reading.time_s - course.fitted_s >= FIT_EVERY_S and search.fit is not None:
            yield from _show_fit(course, reading, search.fit)


def _sharper_for_law(course: _Course, search: Search) -> Search | None:
    """Ask more of the readings where a learnt law takes up part of the uncertainty that was asked for.

    Once only: how much the law takes up does not change with the readings. Says so where it takes up too much.
    """
    law, fit = course.log.law, current_fit(search)
    if course.sharpened or not isinstance(law, RiseLaw) or fit is None:
        return None
    course.sharpened = True
    taken = share_of_law(fit, law_sigma_at(law, course.log.power_off_db))
    asked = (search.goal.centre_fraction, search.goal.width_fraction)
    if taken is None or all(goal is None or part < _HARDLY * goal for part, goal in zip(taken, asked, strict=True)):
        return None
    left = []
    for figure, part, goal in zip(("centre", "width"), taken, asked, strict=True):
        room = 1.0 if goal is None else 1.0 - (part / goal) ** 2
        if goal is not None and room < _LEAST_ROOM:
            course.doubts.append(
                f"The detector's law, as learnt, alone leaves the {figure} uncertain by {100 * part:.1f} % of the "
                f"width, and {100 * goal:g} % was asked for: more readings of the response do not better that, a "
                "stronger signal or a steadier meter while the law is learnt does."
            )
            room = 1.0
        left.append(None if goal is None else goal * room**0.5)
    return with_goal(search, *left)


def _ready_for_check(search: Search, move: Measure | Finished) -> bool:
    """A first fit tells where the peak is; without one, the end of the search is the last chance."""
    return bool(search.frequency_hz) and (search.fit is not None or isinstance(move, Finished))


def _begin(course: _Course) -> Search:
    """Begin the search for frequencies with the levels there are already."""
    settings = course.settings
    fraction = settings.until_centre_fraction
    search = begin(
        ScanGoal(
            start_hz=settings.start_hz,
            stop_hz=settings.stop_hz,
            centre_fraction=CENTRE_GOAL if fraction is None else fraction,
            width_fraction=WIDTH_GOAL if fraction is None else None,
            budget=READINGS_BUDGET,
        )
    )
    for level in course.log.levels:
        search = _observe(search, level.frequency_hz, level)
    return search


def _observe(search: Search, frequency_hz: float, level: Level | None) -> Search:
    if level is None:
        return observe(search, frequency_hz, None)
    return observe(search, frequency_hz, level.level_db, level.sigma_db)


def _check_settling(course: _Course, search: Search) -> Generator[Request, Any, Search]:
    """See once whether the meter follows; begin again with a longer wait, or say so where the wait was asked for."""
    settings = course.settings
    peak_hz, noise_db = _peak_so_far(search)
    creep = yield from _creep(course, peak_hz)
    course.log.readings += CHECK_READINGS
    course.settled = True
    if not is_creeping(creep, noise_db):
        return search
    said = _moved(course, creep)
    if settings.settle_s is not None or course.settle_s * LONGER > LONGEST_SETTLE_S:
        course.doubts.append(f"{said} Allow a longer settling time.")
        return search
    course.settle_s *= LONGER
    course.settled = False
    course.log.start_over()
    yield from tell(Notice(f"{said} Beginning again with {course.settle_s:g} s."))
    return _begin(course)


def _peak_so_far(search: Search) -> tuple[float, float]:
    """Give where the response is strong, in Hz, and the noise of a reading in dB."""
    fit = search.fit
    if fit is not None and fit.centre is not None:
        return fit.centre.value, fit.noise_db
    return search.frequency_hz[int(np.argmax(search.level_db))], UNKNOWN_NOISE_DB


def _read_at(
    course: _Course, frequency_hz: float, meanwhile: Callable[[], object] | None = None
) -> Generator[Request, Any, ReadingTaken]:
    yield from set_frequency(frequency_hz)
    yield from settle(course.settle_s)
    reading = yield from read_meter("scan", meanwhile)
    course.log.readings += 1
    if course.began_s is None:
        course.began_s = course.shown_s = course.fitted_s = reading.time_s
    return reading


def _show_progress(course: _Course, reading: ReadingTaken, done: float, text: str) -> Steps:
    elapsed_s = reading.time_s - (course.began_s or 0.0)
    course.shown_s = reading.time_s
    overall = course.progress_from + (1 - course.progress_from) * done
    yield from tell(Progress(overall, elapsed_s * (1 - done) / done if done > 0 else None, text))


def _show_fit(course: _Course, reading: ReadingTaken, fit: PassbandFit) -> Steps:
    course.fitted_s = reading.time_s
    yield from tell(PartialFit(course.result_of(fit).figures()))
