"""Scan a response with the source, undo the detector's law, and fit centre and widths.

Without a number of readings the scan chooses each frequency itself, from what the readings so far leave uncertain;
with one it reads an even sweep.
"""

from collections.abc import Generator
from dataclasses import dataclass, field
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
from sequences.numerics.levels.rise_law import RiseLaw
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
    progress,
    with_goal,
)
from sequences.procedures.sweeps.calibration import SHARE_OF_SCAN, calibrate
from sequences.procedures.sweeps.scan_figures import CURVE_POINTS, scan_figures
from sequences.procedures.sweeps.scan_log import Level, ScanLog
from sequences.procedures.sweeps.settling import (
    CHECK_READINGS,
    LONGER,
    LONGEST_SETTLE_S,
    START_SETTLE_S,
    UNKNOWN_NOISE_DB,
    creep_db,
    is_creeping,
)

Steps = Generator[Request, Any, None]

CENTRE_GOAL = 0.01
WIDTH_GOAL = 0.02
"""What a scan aims at where nothing was asked: one sigma as a share of the 3 dB width."""

READINGS_BUDGET = 400
"""Readings after which a scan that chooses its own frequencies gives what it has."""

KEPT_CURVE_POINTS = 101
"""Points of the curve that the record keeps of each sweep of a job, to be drawn on paper."""

SHOW_EVERY_S = 0.1
FIT_EVERY_S = 1.0
"""How often progress and the fit so far are shown; a fit takes tens of milliseconds of the meter's time."""

_HARDLY = 0.2
"""Of the uncertainty asked for: what the law takes up below that raises the whole by 2 % at most."""

_LEAST_ROOM = 0.25
"""Of the variance asked for: less than that left to the readings would take more than four times as many."""

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
    frequencies.
    """

    start_hz: float
    stop_hz: float
    level_dbm: float
    settle_s: float | None = None
    detector: Detector = Detector.LINEAR
    readings: int | None = None
    until_centre_fraction: float | None = None

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
        (
            fraction is not None and settings.readings is not None,
            "Ask for an even sweep of so many readings or for an uncertainty to reach, not for both.",
        ),
    )


@dataclass(frozen=True, slots=True)
class ScanResult:
    """What a scan found. `readings` counts every meter reading, those of a calibration included.

    Only the two after an even sweep that show whether the meter had settled are not counted: it has as many as asked.
    `levels` are those the fit was made from, undone by `law`.
    """

    fit: PassbandFit
    readings: int
    doubts: tuple[str, ...]
    start_hz: float
    stop_hz: float
    levels: tuple[Level, ...]
    law: LevelLaw

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
    began_s: float | None = None
    shown_s: float = 0.0
    fitted_s: float = 0.0

    def result(self) -> ScanResult:
        return self.result_of(self.log.fit())

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
    if settings.readings is None:
        yield from _chosen_readings(course)
    else:
        yield from _even_sweep(course, settings.readings)
    yield from set_output(False)
    result = course.result()
    yield from tell(CurveFitted(result.figures(KEPT_CURVE_POINTS)))
    return result


def _learn_law(course: _Course) -> Steps:
    """Learn the law; what was read over the sweep on the way counts as readings of the response."""
    settings = course.settings
    calibration = yield from calibrate(settings.start_hz, settings.stop_hz, settings.level_dbm, course.settle_s)
    course.log.law = calibration.law
    course.log.readings = calibration.readings
    course.progress_from = SHARE_OF_SCAN
    yield from set_power(calibration.scan_power_dbm)
    if settings.readings is None:
        for reading in calibration.over_sweep:
            yield from course.log.take(reading)


def _even_sweep(course: _Course, readings: int) -> Steps:
    frequencies_hz = np.linspace(course.settings.start_hz, course.settings.stop_hz, readings).tolist()
    for done, frequency_hz in enumerate(frequencies_hz, 1):
        reading = yield from _read_at(course, frequency_hz)
        yield from course.log.take(reading)
        if done == readings or reading.time_s - course.shown_s >= SHOW_EVERY_S:
            yield from _show_progress(course, reading, done / readings, f"Reading {done} of {readings}")
        if done < readings and reading.time_s - course.fitted_s >= FIT_EVERY_S:
            yield from _show_fit(course, reading, course.log.fit())
    if course.settings.settle_s is None or readings >= ENOUGH_TO_CHECK:
        yield from _doubt_settling(course)


def _doubt_settling(course: _Course) -> Steps:
    """Say so if the meter had not settled: a lag shifts a sweep one way along, which its readings cannot show."""
    fit = course.log.fit()
    if fit.centre is None:
        return
    creep = yield from _creep(course, fit.centre.value)
    if is_creeping(creep, fit.noise_db):
        course.doubts.append(f"{_moved(course, creep)} Allow a longer settling time.")


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
    taken = share_of_law(fit, law.sigma_db)
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


def _read_at(course: _Course, frequency_hz: float) -> Generator[Request, Any, ReadingTaken]:
    yield from set_frequency(frequency_hz)
    yield from settle(course.settle_s)
    reading = yield from read_meter("scan")
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
