"""Learn the detector's law: find a strong frequency, then step the source there by known decibels."""

from collections.abc import Generator
from dataclasses import dataclass
from typing import Any

import numpy as np

from sequences.engine.events import LevelTaken, Notice, Progress, ReadingTaken
from sequences.engine.requests import Request
from sequences.engine.steps import read_meter, set_frequency, set_output, set_power, settle, tell
from sequences.errors import SequenceError
from sequences.numerics.levels.rise_law import RiseLaw
from sequences.numerics.search.coarse_look import LOOK_READINGS, look_frequencies
from sequences.numerics.wording import say_dbm

CLOSER_READINGS = 9
QUIET_READINGS = 4
LEAST_RISE_SIGMAS = 6.0

HEADROOM_DB = 1.0
"""The scan runs this far below the law's upper end, so that noise at the peak does not fall outside the law."""

DEPTH_DB = 24.0
STEP_DB = 2.0
"""How far down and how finely the source is stepped: past the 6 dB points with the skirts the fit needs."""

LOUDER_DB = 10.0
ATTEMPTS = 3
"""How often a reading is asked for that comes back as a mark, before the calibration gives up."""

SHARE_OF_SCAN = 0.5
USUAL_READINGS = 20
"""What part of a scan's progress its calibration is taken for, and how many readings usually follow it."""


@dataclass(frozen=True, slots=True)
class Calibration:
    """The law, the source power to scan at, how many meter readings it took, and those of them over the sweep."""

    law: RiseLaw
    scan_power_dbm: float
    readings: int
    over_sweep: tuple[ReadingTaken, ...]


@dataclass(slots=True)
class _Tally:
    """How many readings were taken, how many it will be, and when the first was taken."""

    total: int
    taken: int = 0
    began_s: float = 0.0

    def remaining_s(self, now_s: float) -> float | None:
        """Guess the time left of the whole scan, from the pace so far and what a scan usually takes after this."""
        if self.taken < QUIET_READINGS:
            return None
        pace_s = (now_s - self.began_s) / max(1, self.taken - 1)
        return pace_s * (max(0, self.total - self.taken) + USUAL_READINGS)


def calibrate(
    start_hz: float, stop_hz: float, level_dbm: float, settle_s: float, highest_dbm: float | None = None
) -> Generator[Request, Any, Calibration]:
    """Learn how the metered voltage depends on level. The source's output is left on.

    Where the steps make no law, because a delayed AGC or a dull probe shows nothing of the lower ones, the source is
    raised and the law learnt anew, up to `highest_dbm`; None: it stays at `level_dbm`.

    Raises:
        SequenceError: nothing rises above the noise in the sweep, or the steps make no law, at any level allowed.
    """
    highest_dbm = level_dbm if highest_dbm is None else highest_dbm
    while True:
        try:
            return (yield from _calibrate_at(start_hz, stop_hz, level_dbm, settle_s))
        except SequenceError as error:
            if level_dbm >= highest_dbm:
                raise
            level_dbm = min(level_dbm + LOUDER_DB, highest_dbm)
            yield from tell(Notice(f"{error} The source goes up to {say_dbm(level_dbm)}."))


def _calibrate_at(
    start_hz: float, stop_hz: float, level_dbm: float, settle_s: float
) -> Generator[Request, Any, Calibration]:
    tally = _Tally(QUIET_READINGS + LOOK_READINGS + CLOSER_READINGS + 2 * _powers(level_dbm).size)
    quiet_v = yield from _read_quiet(tally, settle_s)
    yield from set_power(level_dbm - HEADROOM_DB)
    yield from set_output(True)
    over_sweep = yield from _read_over(tally, quiet_v, look_frequencies(start_hz, stop_hz), settle_s)
    strong_hz, _ = _strongest(quiet_v, over_sweep)
    cell_hz = (stop_hz - start_hz) / LOOK_READINGS
    near_hz = np.clip(strong_hz + cell_hz * np.linspace(-1, 1, CLOSER_READINGS), start_hz, stop_hz)
    over_sweep += yield from _read_over(tally, quiet_v, near_hz, settle_s)
    strong_hz, rise_v = _strongest(quiet_v, over_sweep)
    if rise_v <= LEAST_RISE_SIGMAS * float(np.std(quiet_v, ddof=1)):
        raise SequenceError(
            "Nothing in this sweep moves the meter above its noise, so the detector's law cannot be learnt; "
            "check the leads and the band, or raise the source level."
        )
    yield from set_frequency(strong_hz)
    steps = yield from _step_source(tally, level_dbm, settle_s)
    return Calibration(_law(quiet_v, steps, level_dbm), level_dbm - HEADROOM_DB, tally.taken, tuple(over_sweep))


def _read(tally: _Tally) -> Generator[Request, Any, ReadingTaken]:
    """Take one reading that is a number, and show how far the calibration is.

    Raises:
        SequenceError: the meter keeps giving marks.
    """
    for _ in range(ATTEMPTS):
        reading = yield from read_meter("calibration")
        tally.taken += 1
        if tally.taken == 1:
            tally.began_s = reading.time_s
        if reading.value is not None:
            text = f"Learning the detector's law, reading {tally.taken}"
            done = SHARE_OF_SCAN * min(1.0, tally.taken / tally.total)
            yield from tell(Progress(done, tally.remaining_s(reading.time_s), text))
            return reading
    raise SequenceError(
        "The meter gave no reading while the detector's law was learnt (overload or not a number); "
        "lower the source level or give the meter a higher range."
    )


def _read_quiet(tally: _Tally, settle_s: float) -> Generator[Request, Any, np.ndarray]:
    """Read the meter with the source off: what no signal looks like, and how noisy a reading is."""
    yield from set_output(False)
    yield from settle(settle_s)
    volts = np.empty(QUIET_READINGS)
    for index in range(QUIET_READINGS):
        volts[index] = _volts((yield from _read(tally)))
    return volts


def _read_over(
    tally: _Tally, quiet_v: np.ndarray, frequencies_hz: np.ndarray, settle_s: float
) -> Generator[Request, Any, list[ReadingTaken]]:
    """Read at each frequency, and show a rough level: the rise read as linear, until the law is known."""
    readings: list[ReadingTaken] = []
    for frequency_hz in frequencies_hz.tolist():
        yield from set_frequency(frequency_hz)
        yield from settle(settle_s)
        reading = yield from _read(tally)
        readings.append(reading)
        rise_v = abs(_volts(reading) - float(np.mean(quiet_v)))
        rough_db = 20 * float(np.log10(rise_v)) if rise_v else None
        yield from tell(LevelTaken(reading.index, frequency_hz, rough_db, used=False))
    return readings


def _strongest(quiet_v: np.ndarray, readings: list[ReadingTaken]) -> tuple[float, float]:
    """Give the frequency whose reading lies farthest from the quiet one, and that distance in volts."""
    rise_v, frequency_hz = max(
        (abs(_volts(reading) - float(np.mean(quiet_v))), reading.frequency_hz or 0.0) for reading in readings
    )
    return frequency_hz, rise_v


def _powers(level_dbm: float) -> np.ndarray:
    return np.arange(level_dbm, level_dbm - DEPTH_DB - STEP_DB / 2, -STEP_DB)


def _step_source(tally: _Tally, level_dbm: float, settle_s: float) -> Generator[Request, Any, np.ndarray]:
    """Read each step going down and again coming back up, so that slow drift cancels; volts, shape (2, n)."""
    powers_dbm = _powers(level_dbm)
    volts = np.empty((2, powers_dbm.size))
    for way, order in enumerate((range(powers_dbm.size), reversed(range(powers_dbm.size)))):
        for step in order:
            yield from set_power(float(powers_dbm[step]))
            yield from settle(settle_s)
            volts[way, step] = _volts((yield from _read(tally)))
    return volts


def _law(quiet_v: np.ndarray, steps_v: np.ndarray, level_dbm: float) -> RiseLaw:
    powers_dbm = _powers(level_dbm)
    sigma_v = _noise_v(quiet_v, steps_v)
    try:
        return RiseLaw.from_steps(np.tile(powers_dbm, 2), steps_v.ravel(), np.tile(sigma_v, 2), float(np.mean(quiet_v)))
    except ValueError as error:
        raise SequenceError(f"The detector's law could not be learnt: {error}") from error


def _noise_v(quiet_v: np.ndarray, steps_v: np.ndarray) -> np.ndarray:
    """Give the noise of one reading at each step, from what two readings of it differ by, shape (n,).

    Noise has a part that is always there, seen with the source off, and a part that grows with the signal: by a larger
    share of it where the signal is weak, since there AGC does not yet hold it and a detector follows its square.
    """
    rise_v = np.abs(np.mean(steps_v, axis=0) - np.mean(quiet_v))
    share = (steps_v[0] - steps_v[1]) / np.sqrt(2.0) / rise_v
    strong = rise_v >= np.median(rise_v)
    of_strong = float(np.sqrt(np.mean(share[strong] ** 2)))
    of_weak = float(np.sqrt(np.mean(share[~strong] ** 2)))
    growing = np.where(strong, of_strong, max(of_strong, of_weak))
    noise_v: np.ndarray = np.hypot(float(np.std(quiet_v, ddof=1)), growing * rise_v)
    return noise_v


def _volts(reading: ReadingTaken) -> float:
    return float("nan") if reading.value is None else reading.value
