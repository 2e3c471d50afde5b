"""Has the meter settled? Measured, not guessed: hop from the skirt to the peak, read, wait, and read again."""

from collections.abc import Generator
from typing import Any

from sequences.engine.requests import Request
from sequences.engine.steps import read_meter, set_frequency, settle
from sequences.numerics.levels.level_laws import LevelLaw

START_SETTLE_S = 0.02
"""What a scan waits where it was not told: a detector and a voltmeter without AGC settle within it."""

LONGEST_SETTLE_S = 2.0
LONGER = 4.0
"""The second reading comes after this many times the wait, which is also how much longer a next attempt waits."""

CREEP_SIGMAS = 4.0
LEAST_CREEP_DB = 0.3
UNKNOWN_NOISE_DB = 1.0
"""What the noise of a reading is taken for as long as no fit has told it."""

CHECK_READINGS = 2


def creep_db(away_hz: float, peak_hz: float, settle_s: float, law: LevelLaw) -> Generator[Request, Any, float | None]:
    """Give how far the level still moves at the peak after the wait, in dB; None where it cannot be told.

    Takes `CHECK_READINGS` readings and leaves the source at the peak.
    """
    longer_s = LONGER * max(settle_s, 0.25 * START_SETTLE_S)
    yield from set_frequency(away_hz)
    yield from settle(longer_s)
    yield from set_frequency(peak_hz)
    yield from settle(settle_s)
    soon = yield from read_meter("settling")
    yield from settle(longer_s)
    late = yield from read_meter("settling")
    if soon.value is None or late.value is None:
        return None
    soon_db, late_db = law.to_level_db(soon.value).level_db, law.to_level_db(late.value).level_db
    return None if soon_db is None or late_db is None else abs(late_db - soon_db)


def is_creeping(creep: float | None, noise_db: float) -> bool:
    """Say whether a movement is more than the noise of two readings makes."""
    return creep is not None and creep > max(LEAST_CREEP_DB, CREEP_SIGMAS * 2**0.5 * noise_db)
