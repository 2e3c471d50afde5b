"""Find a source level to measure at: well above the noise, and low enough that AGC does not flatten the top."""

import math
from collections.abc import Generator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sequences.engine.events import Notice, ReadingTaken
from sequences.engine.instruments import Mark
from sequences.engine.requests import Request
from sequences.engine.steps import read_meter, set_frequency, set_output, set_power, settle, tell
from sequences.errors import SequenceError
from sequences.numerics.figures import DoubtName
from sequences.numerics.levels.compression import detect_compression
from sequences.numerics.wording import say_dbm, say_hz

LEAST_SLOPE = 0.5
"""Apparent dB for each dB of the source below which the top counts as flattened. A law learnt there can still be
undone, but every uncertainty is more than doubled, and AGC's slowness with it."""

QUIET_SETTLES = 4.0
"""How many times the meter's usual wait is waited before it is read without a signal: what a strong signal leaves in
the detector would pass for noise."""

CHECK_STEP_DB = 3.0
CHECK_ROUNDS = 4
QUIET_READINGS = 5
CLEAR_SIGMAS = 30.0
LEAST_SIGMAS = 6.0
LOUDER_DB = 10.0
LOWER_DB = 6.0
LOWEST_DBM = -130.0
"""Sources go no lower as a rule (common practice, no source)."""

MOST_TRIES = 20
ATTEMPTS = 3
DB_PER_NEPER = 20.0 / math.log(10.0)

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class SourceLevel:
    """A level to measure at, the strongest frequency of those looked at, and what the meter reads there.

    `volts_sigma` is the noise of one reading; `doubts` say where the level had to be changed, or is not as wanted.
    """

    power_dbm: float
    frequency_hz: float
    volts: float
    volts_sigma: float
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Check:
    """What reading in turns at a level and a little below it told."""

    volts: float
    volts_sigma: float
    flattened: str | None


def find_source_level(
    frequencies_hz: Sequence[float], level_dbm: float, highest_dbm: float, settle_s: float
) -> Generator[Request, Any, SourceLevel]:
    """Begin at `level_dbm`; raise it where nothing stands clear of the noise, lower it where the top is flattened.

    The source is left on, at the level and frequency given back. The meter may read anything that moves with the
    signal, either way.

    Raises:
        SequenceError: nothing moves the meter at the highest level allowed, or it is flattened at every level.
    """
    power_dbm = min(level_dbm, highest_dbm)
    quiet_v = yield from _read_quiet(power_dbm, frequencies_hz[0], settle_s)
    told: list[str] = []
    raised = lowered = False
    for _ in range(MOST_TRIES):
        yield from set_power(power_dbm)
        frequency_hz, rise_v = yield from _strongest(frequencies_hz, quiet_v, settle_s)
        weak = rise_v < CLEAR_SIGMAS * float(np.std(quiet_v, ddof=1))
        if weak and not lowered and power_dbm < highest_dbm:
            power_dbm, raised = min(power_dbm + LOUDER_DB, highest_dbm), True
            continue
        _refuse_silence(rise_v, quiet_v, frequencies_hz, power_dbm)
        yield from set_frequency(frequency_hz)
        check = yield from _check(power_dbm, quiet_v, settle_s)
        if check.flattened is None or (weak and lowered):
            return SourceLevel(power_dbm, frequency_hz, check.volts, check.volts_sigma, _doubts(told, check, raised))
        if power_dbm - LOWER_DB < LOWEST_DBM:
            break
        power_dbm, lowered = power_dbm - LOWER_DB, True
        told = [f"{check.flattened} The source was lowered for it."]
        yield from tell(Notice(f"{check.flattened} The source goes down to {say_dbm(power_dbm)}."))
    raise SequenceError(
        f"The meter follows the source too little at every level down to {say_dbm(power_dbm)}: switch the AGC off, or "
        "take another measuring point."
    )


def _doubts(told: list[str], check: _Check, raised: bool) -> tuple[str, ...]:
    if check.flattened is not None and raised:
        return (*told, f"{check.flattened} A lower level drowns in the noise.")
    return tuple(told)


def _read_quiet(power_dbm: float, frequency_hz: float, settle_s: float) -> Generator[Request, Any, Floats]:
    """Read the meter with the source off, then switch it on."""
    yield from set_output(False)
    yield from set_power(power_dbm)
    yield from set_frequency(frequency_hz)
    yield from settle(QUIET_SETTLES * settle_s)
    quiet_v = np.empty(QUIET_READINGS)
    for number in range(QUIET_READINGS):
        quiet_v[number] = yield from read_volts("quiet")
    yield from set_output(True)
    if not np.isfinite(quiet_v).all():
        raise SequenceError("The meter overloads with the source off; give it a higher range or check its lead.")
    return quiet_v


def read_volts(purpose: str) -> Generator[Request, Any, float]:
    """Take a reading; infinite where the meter overloads, and asked for again where it is not a number.

    Raises:
        SequenceError: the meter gives no number again and again.
    """
    for _ in range(ATTEMPTS):
        reading: ReadingTaken = yield from read_meter(purpose)
        if reading.mark is Mark.OVERLOAD:
            return math.inf
        if reading.value is not None:
            return reading.value
    raise SequenceError("The meter gave no number three times in a row; check its function, its range and its lead.")


def _strongest(
    frequencies_hz: Sequence[float], quiet_v: Floats, settle_s: float
) -> Generator[Request, Any, tuple[float, float]]:
    """Give the frequency whose reading lies farthest from the quiet one, and that distance in volts."""
    found = (frequencies_hz[0], -1.0)
    for frequency_hz in frequencies_hz:
        yield from set_frequency(frequency_hz)
        yield from settle(settle_s)
        rise_v = abs((yield from read_volts("level")) - float(np.mean(quiet_v)))
        if rise_v > found[1]:
            found = (frequency_hz, rise_v)
    return found


def _refuse_silence(rise_v: float, quiet_v: Floats, frequencies_hz: Sequence[float], power_dbm: float) -> None:
    if rise_v > LEAST_SIGMAS * float(np.std(quiet_v, ddof=1)):
        return
    low, high = min(frequencies_hz), max(frequencies_hz)
    where = f"at {say_hz(low)}" if low == high else f"from {say_hz(low)} to {say_hz(high)}"
    raise SequenceError(
        f"Nothing moves the meter above its noise {where}, even at {say_dbm(power_dbm)}: check the leads, the controls "
        "and the steps that come before this one."
    )


def _check(power_dbm: float, quiet_v: Floats, settle_s: float) -> Generator[Request, Any, _Check]:
    """Read in turns at the level and a little below it, so that a slow drift cancels."""
    volts = np.empty((2, CHECK_ROUNDS))
    for number in range(CHECK_ROUNDS):
        for row, below_db in enumerate((CHECK_STEP_DB, 0.0)):
            yield from set_power(power_dbm - below_db)
            yield from settle(settle_s)
            volts[row, number] = yield from read_volts("level")
    if not np.isfinite(volts).all():
        return _Check(math.inf, 0.0, "The meter overloads.")
    return _judge_check(power_dbm, volts, quiet_v)


def _judge_check(power_dbm: float, volts: Floats, quiet_v: Floats) -> _Check:
    """Judge volts, shape (2, rounds), at the lower and the higher of the two levels."""
    rise_v = np.abs(volts.mean(axis=1) - quiet_v.mean())
    # Noise has a part that is always there and a part that grows with the signal; at the top both count.
    own_v = float(np.sqrt(np.mean(np.var(volts, axis=1, ddof=1))))
    sigma_v = max(own_v, float(np.std(quiet_v, ddof=1)))
    level_db = DB_PER_NEPER * np.log(np.maximum(rise_v, 1e-12))
    sigma_db = DB_PER_NEPER * sigma_v / np.maximum(rise_v, 1e-12) / math.sqrt(CHECK_ROUNDS)
    powers_dbm = [power_dbm - CHECK_STEP_DB, power_dbm]
    found = detect_compression(powers_dbm, level_db, sigma_db, least_slope=LEAST_SLOPE)
    flattened = next((doubt.text for doubt in found.doubts if doubt.name is DoubtName.COMPRESSED), None)
    return _Check(float(volts[1].mean()), sigma_v, flattened)
