"""Scan a response with the source, undo the detector's law, and fit centre and widths.

Without a number of readings the scan chooses each frequency itself, from what the readings so far leave uncertain;
with one it reads an even sweep.
"""

from collections.abc import Generator
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

import numpy as np

from sequences.engine import Procedure
from sequences.errors import SequenceError
from sequences.events import LevelTaken, PartialFit, Progress, ReadingTaken
from sequences.instruments import Mark
from sequences.numerics.level_laws import LevelLaw, LinearLaw, SquareLaw
from sequences.numerics.next_reading import Finished, ScanGoal, Search, begin, choose, current_fit, observe, progress
from sequences.numerics.passband import PassbandFit, fit_passband
from sequences.procedures.calibration import Calibration, calibrate
from sequences.procedures.scan_figures import scan_figures
from sequences.requests import Request
from sequences.steps import read_meter, set_frequency, set_output, set_power, settle, tell

Steps = Generator[Request, Any, None]

CENTRE_GOAL = 0.01
WIDTH_GOAL = 0.02
"""What a scan aims at where nothing was asked: one sigma as a share of the 3 dB width."""

READINGS_BUDGET = 400
"""Readings after which a scan that chooses its own frequencies gives what it has."""

SHOW_EVERY_S = 0.1
FIT_EVERY_S = 0.5
"""How often progress and the fit so far are shown; a fit takes milliseconds, which a fast sweep cannot spare."""

LONGEST_SETTLE_S = 60.0
FEWEST_READINGS = 3
MOST_READINGS = 100_000

OVERLOADS_REFUSED = 3
"""Overloaded readings in a row after which the scan ends: the level is too high for the meter's range."""


class Detector(StrEnum):
    """The detector laws a scan can undo."""

    LINEAR = "linear"
    SQUARE = "square"
    CALIBRATE = "calibrate"


@dataclass(frozen=True, slots=True)
class ScanSettings:
    """What to scan. `level_dbm` is what reaches the receiver; `readings` None lets the scan choose its frequencies."""

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
        for complaint in _complaints(self):
            raise SequenceError(complaint)


def _complaints(settings: ScanSettings) -> list[str]:
    numbers = (settings.start_hz, settings.stop_hz, settings.level_dbm, settings.settle_s)
    fraction = settings.until_centre_fraction
    checks = (
        (not np.all(np.isfinite(numbers)), "Start, stop, level and settling time must be plain numbers."),
        (not 0 < settings.start_hz < settings.stop_hz, _span_complaint(settings)),
        (
            not 0 <= settings.settle_s <= LONGEST_SETTLE_S,
            f"The settling time {settings.settle_s:g} s must be from 0 to {LONGEST_SETTLE_S:g} s.",
        ),
        (
            settings.readings is not None and not FEWEST_READINGS <= settings.readings <= MOST_READINGS,
            f"An even sweep takes from {FEWEST_READINGS} to {MOST_READINGS} readings, not {settings.readings}.",
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
    return [sentence for wrong, sentence in checks if wrong]


def _span_complaint(settings: ScanSettings) -> str:
    return (
        f"The sweep must start above 0 Hz and stop above its start, but it was asked to run from "
        f"{settings.start_hz:g} Hz to {settings.stop_hz:g} Hz."
    )


@dataclass(frozen=True, slots=True)
class ScanResult:
    """What a scan found. `readings` counts every meter reading, those of a calibration included."""

    fit: PassbandFit
    readings: int
    doubts: tuple[str, ...]
    start_hz: float
    stop_hz: float

    def figures(self) -> dict[str, Any]:
        """Give the result as plain values with units in their names, None where the data support none."""
        return scan_figures(self.fit, self.readings, self.doubts, self.start_hz, self.stop_hz)


@dataclass(slots=True)
class _Log:
    """What the scan has read so far. The one mutable thing of the procedure; nobody else sees it."""

    settings: ScanSettings
    law: LevelLaw
    readings: int = 0
    frequency_hz: list[float] = field(default_factory=list)
    level_db: list[float] = field(default_factory=list)
    sigma_db: list[float | None] = field(default_factory=list)
    overloads: int = 0
    overloads_in_a_row: int = 0
    left_out: int = 0
    began_s: float | None = None
    shown_s: float = 0.0
    fitted_s: float = 0.0


def scan(settings: ScanSettings) -> Procedure[ScanResult]:
    """Scan and fit.

    Raises:
        SequenceError: the meter overloads, or the detector's law cannot be learnt; the text says what to do.
    """
    yield from set_frequency(settings.start_hz)
    yield from set_power(settings.level_dbm)
    log = _Log(settings, SquareLaw() if settings.detector is Detector.SQUARE else LinearLaw())
    if settings.detector is Detector.CALIBRATE:
        yield from _learn_law(log)
    else:
        yield from set_output(True)
        yield from settle(settings.settle_s)
    if settings.readings is None:
        yield from _chosen_readings(log)
    else:
        yield from _even_sweep(log, settings.readings)
    yield from set_output(False)
    return _result(log)


def _learn_law(log: _Log) -> Steps:
    settings = log.settings
    calibration: Calibration = yield from calibrate(
        settings.start_hz, settings.stop_hz, settings.level_dbm, settings.settle_s
    )
    log.law = calibration.law
    log.readings = calibration.readings
    yield from set_power(calibration.scan_power_dbm)


def _even_sweep(log: _Log, readings: int) -> Steps:
    for done, frequency_hz in enumerate(np.linspace(log.settings.start_hz, log.settings.stop_hz, readings).tolist(), 1):
        reading = yield from _take(log, frequency_hz)
        if _due(log, reading, done == readings):
            yield from _show_progress(log, reading, done / readings, f"Reading {done} of {readings}")
            if reading.time_s - log.fitted_s >= FIT_EVERY_S and done < readings:
                yield from _show_fit(log, reading, _fit(log))


def _chosen_readings(log: _Log) -> Steps:
    settings = log.settings
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
    while not isinstance(move := choose(search), Finished):
        reading = yield from _take(log, move.frequency_hz)
        search = _observed(search, log, reading, move.frequency_hz)
        if _due(log, reading, last=False):
            yield from _show_progress(log, reading, progress(search), f"Reading {log.readings}")
            if reading.time_s - log.fitted_s >= FIT_EVERY_S and (fit := current_fit(search)) is not None:
                yield from _show_fit(log, reading, fit)


def _observed(search: Search, log: _Log, reading: ReadingTaken, frequency_hz: float) -> Search:
    level = log.law.to_level_db(reading.value) if reading.value is not None else None
    if level is None or level.level_db is None:
        return observe(search, frequency_hz, None)
    return observe(search, frequency_hz, level.level_db, level.sigma_db)


def _take(log: _Log, frequency_hz: float) -> Generator[Request, Any, ReadingTaken]:
    """Take one reading and turn it into a level."""
    yield from set_frequency(frequency_hz)
    yield from settle(log.settings.settle_s)
    reading = yield from read_meter("scan")
    log.readings += 1
    if log.began_s is None:
        log.began_s = log.shown_s = log.fitted_s = reading.time_s
    _refuse_overloads(log, reading)
    level = log.law.to_level_db(reading.value) if reading.value is not None else None
    level_db = level.level_db if level is not None else None
    if level is not None and level_db is not None:
        log.frequency_hz.append(frequency_hz)
        log.level_db.append(level_db)
        log.sigma_db.append(level.sigma_db)
    else:
        log.left_out += 1
    yield from tell(LevelTaken(reading.index, frequency_hz, level_db, level_db is not None))
    return reading


def _refuse_overloads(log: _Log, reading: ReadingTaken) -> None:
    if reading.mark is not Mark.OVERLOAD:
        log.overloads_in_a_row = 0
        return
    log.overloads += 1
    log.overloads_in_a_row += 1
    if log.overloads_in_a_row >= OVERLOADS_REFUSED:
        raise SequenceError(
            f"The meter reported overload {OVERLOADS_REFUSED} times in a row at {reading.frequency_hz:g} Hz; "
            "lower the source level or give the meter a higher range."
        )


def _due(log: _Log, reading: ReadingTaken, last: bool) -> bool:
    return last or reading.time_s - log.shown_s >= SHOW_EVERY_S


def _show_progress(log: _Log, reading: ReadingTaken, done: float, text: str) -> Steps:
    elapsed_s = reading.time_s - (log.began_s or 0.0)
    remaining_s = elapsed_s * (1 - done) / done if done > 0 else None
    log.shown_s = reading.time_s
    yield from tell(Progress(done, remaining_s, text))


def _show_fit(log: _Log, reading: ReadingTaken, fit: PassbandFit) -> Steps:
    log.fitted_s = reading.time_s
    settings = log.settings
    figures = scan_figures(fit, log.readings, _doubts(log, fit), settings.start_hz, settings.stop_hz)
    yield from tell(PartialFit(figures))


def _fit(log: _Log) -> PassbandFit:
    sigmas = [sigma for sigma in log.sigma_db if sigma is not None]
    weighted = len(sigmas) == len(log.sigma_db) and bool(sigmas)
    return fit_passband(
        np.asarray(log.frequency_hz), np.asarray(log.level_db), np.asarray(sigmas) if weighted else None
    )


def _result(log: _Log) -> ScanResult:
    fit = _fit(log)
    return ScanResult(fit, log.readings, _doubts(log, fit), log.settings.start_hz, log.settings.stop_hz)


def _doubts(log: _Log, fit: PassbandFit) -> tuple[str, ...]:
    sentences = [doubt.text for doubt in fit.doubts]
    if log.overloads:
        sentences.append(f"The meter reported overload at {log.overloads} of {log.readings} readings; lower the level.")
    silent = log.left_out - log.overloads
    if silent:
        sentences.append(
            f"{silent} of {log.readings} readings gave no level (zero, not a number, or outside the detector's law) "
            "and were left out."
        )
    return tuple(sentences)
