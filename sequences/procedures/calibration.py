"""Learn the detector's law: find a strong frequency, then step the source there by known decibels."""

from collections.abc import Generator
from dataclasses import dataclass
from typing import Any

import numpy as np

from sequences.errors import SequenceError
from sequences.events import Notice, ReadingTaken
from sequences.numerics.level_laws import CalibratedLaw
from sequences.requests import Request
from sequences.steps import read_meter, set_frequency, set_output, set_power, settle, tell

COARSE_READINGS = 31
"""Enough over the sweep that a response a twentieth of it wide rises at one reading or more."""

CLOSER_READINGS = 9
QUIET_READINGS = 4
LEAST_RISE_SIGMAS = 6.0

HEADROOM_DB = 1.0
"""The scan runs this far below the law's upper end, so that noise at the peak does not fall outside the law."""

DEPTH_DB = 24.0
STEP_DB = 1.5
"""How far down and how finely the source is stepped: past the 6 dB points with the skirts the fit needs."""


@dataclass(frozen=True, slots=True)
class Calibration:
    """The law, the source power to scan at, how many meter readings it took, and those of them over the sweep."""

    law: CalibratedLaw
    scan_power_dbm: float
    readings: int
    over_sweep: tuple[ReadingTaken, ...]


def calibrate(
    start_hz: float, stop_hz: float, level_dbm: float, settle_s: float
) -> Generator[Request, Any, Calibration]:
    """Learn how the metered voltage depends on level. The source's output is left on.

    Raises:
        SequenceError: nothing rises above the noise in the sweep, or the steps make no law.
    """
    quiet_v = yield from _read_quiet(settle_s)
    yield from set_output(True)
    coarse = yield from _read_over(np.linspace(start_hz, stop_hz, COARSE_READINGS), settle_s)
    strong_hz, _ = _strongest(quiet_v, coarse)
    step_hz = (stop_hz - start_hz) / (COARSE_READINGS - 1)
    near_hz = np.clip(strong_hz + step_hz * np.linspace(-1, 1, CLOSER_READINGS), start_hz, stop_hz)
    over_sweep = coarse + (yield from _read_over(near_hz, settle_s))
    strong_hz, rise_v = _strongest(quiet_v, over_sweep)
    noise_v = float(np.std(quiet_v, ddof=1))
    if rise_v <= LEAST_RISE_SIGMAS * noise_v:
        raise SequenceError(
            "Nothing in this sweep moves the meter above its noise, so the detector's law cannot be learnt; "
            "check the leads and the band, or raise the source level."
        )
    yield from tell(Notice(f"Learning the detector's law at {strong_hz:.0f} Hz."))
    law = yield from _step_source(strong_hz, level_dbm, settle_s, noise_v)
    readings = QUIET_READINGS + len(over_sweep) + _powers(level_dbm).size
    return Calibration(law, level_dbm - HEADROOM_DB, readings, tuple(over_sweep))


def _read_quiet(settle_s: float) -> Generator[Request, Any, np.ndarray]:
    """Read the meter with the source off: what no signal looks like, and how noisy a reading is."""
    yield from set_output(False)
    yield from settle(settle_s)
    volts: list[float] = []
    for _ in range(QUIET_READINGS):
        reading = yield from read_meter("calibration")
        volts.append(_value(reading.value))
    return np.asarray(volts)


def _read_over(frequencies_hz: np.ndarray, settle_s: float) -> Generator[Request, Any, list[ReadingTaken]]:
    readings: list[ReadingTaken] = []
    for frequency_hz in frequencies_hz.tolist():
        yield from set_frequency(frequency_hz)
        yield from settle(settle_s)
        readings.append((yield from read_meter("calibration")))
    return readings


def _strongest(quiet_v: np.ndarray, readings: list[ReadingTaken]) -> tuple[float, float]:
    """Give the frequency whose reading lies farthest from the quiet one, and that distance in volts."""
    rise_v, frequency_hz = max(
        (abs(_value(reading.value) - float(np.mean(quiet_v))), reading.frequency_hz or 0.0) for reading in readings
    )
    return frequency_hz, rise_v


def _powers(level_dbm: float) -> np.ndarray:
    return np.arange(level_dbm, level_dbm - DEPTH_DB - STEP_DB / 2, -STEP_DB)


def _step_source(
    frequency_hz: float, level_dbm: float, settle_s: float, noise_v: float
) -> Generator[Request, Any, CalibratedLaw]:
    yield from set_frequency(frequency_hz)
    powers_dbm = _powers(level_dbm)
    volts: list[float] = []
    for power_dbm in powers_dbm.tolist():
        yield from set_power(power_dbm)
        yield from settle(settle_s)
        reading = yield from read_meter("calibration")
        volts.append(_value(reading.value))
    try:
        return CalibratedLaw.from_steps(powers_dbm, np.asarray(volts), max(noise_v, 1e-9))
    except ValueError as error:
        raise SequenceError(f"The detector's law could not be learnt: {error}") from error


def _value(value: float | None) -> float:
    if value is None:
        raise SequenceError(
            "The meter gave no reading while the detector's law was learnt (overload or not a number); "
            "lower the source level or give the meter a higher range."
        )
    return value
