"""What a scan checks before it states its figures: the top of the detector's law, and the way back of a sweep."""

from collections.abc import Generator
from typing import Any

import numpy as np

from sequences.engine.requests import Request
from sequences.engine.steps import read_meter, set_frequency, set_power, settle
from sequences.numerics.levels.level_laws import LevelLaw
from sequences.numerics.levels.level_step import STEP_DB, LevelStep, judge_step
from sequences.numerics.levels.way_back import PLACES_OF_WIDTH, WayBack, compare
from sequences.numerics.responses.passband import PassbandFit
from sequences.procedures.sweeps.settling import LONGER

STEP_ROUNDS = 3
FEWEST_SWEPT = 15
"""Readings of an even sweep from which its skirts are worth reading again."""


def step_at_peak(
    fit: PassbandFit, law: LevelLaw, level_dbm: float, settle_s: float
) -> Generator[Request, Any, LevelStep | None]:
    """Read in turns at the centre with the source as it is and a step lower; the source is left as it was.

    Takes two times `STEP_ROUNDS` readings; none where the fit has no centre. It waits longer than the scan, so that a
    meter that lags is not taken for a law that bends.
    """
    if fit.centre is None:
        return None
    yield from set_frequency(fit.centre.value)
    seen: dict[float, list[float]] = {0.0: [], STEP_DB: []}
    for _ in range(STEP_ROUNDS):
        for below_db, levels in seen.items():
            yield from set_power(level_dbm - below_db)
            yield from settle(LONGER * settle_s)
            reading = yield from read_meter("level step")
            level_db = None if reading.value is None else law.to_level_db(reading.value).level_db
            if level_db is not None:
                levels.append(level_db)
    yield from set_power(level_dbm)
    return judge_step(seen[0.0], seen[STEP_DB], fit.noise_db)


def read_way_back(
    fit: PassbandFit, law: LevelLaw, settle_s: float, began_s: float, ended_s: float
) -> Generator[Request, Any, WayBack | None]:
    """Read both skirts again downwards, after a sweep upwards that took from one time to another."""
    if fit.centre is None or fit.width_3db is None or not ended_s > began_s:
        return None
    places: list[float] = []
    levels: list[float] = []
    times: list[float] = []
    for frequency_hz in (fit.centre.value + PLACES_OF_WIDTH * fit.width_3db.value).tolist():
        if not fit.span_hz[0] <= frequency_hz <= fit.span_hz[1]:
            continue
        came_far = not places or (places[-1] - fit.centre.value) * (frequency_hz - fit.centre.value) < 0.0
        yield from set_frequency(frequency_hz)
        yield from settle(LONGER * settle_s if came_far else settle_s)
        reading = yield from read_meter("way back")
        level_db = None if reading.value is None else law.to_level_db(reading.value).level_db
        if level_db is not None:
            places.append(frequency_hz)
            levels.append(level_db)
            times.append(reading.time_s)
    if not places:
        return None
    share = (fit.centre.value - fit.span_hz[0]) / (fit.span_hz[1] - fit.span_hz[0])
    there_s = began_s + share * (ended_s - began_s)
    elapsed = (float(np.mean(times)) - there_s) / (ended_s - began_s)
    return compare(fit, np.array(places), np.array(levels), elapsed)
