"""The readings of a scan that a person takes: few, at frequencies that can be set, and each may be taken back."""

import math
from collections.abc import Generator
from dataclasses import dataclass, field, replace
from typing import Any

from sequences.engine.events import LevelTaken, Progress, ReadingTaken
from sequences.engine.instruments import Mark
from sequences.engine.requests import Request
from sequences.engine.steps import read_meter, set_frequency, settle, tell
from sequences.numerics.levels.reading_resolution import resolution_db
from sequences.numerics.search.next_reading import Finished, ScanGoal, Search, begin, choose, current_fit, observe
from sequences.numerics.search.next_reading import progress as progress_of
from sequences.procedures.sweeps.scan_log import Level, ScanLog

Steps = Generator[Request, Any, None]

CENTRE_GOAL = 0.02
WIDTH_GOAL = 0.05
"""One sigma as a share of the 3 dB width: what a person's readings to half a decibel give in about a dozen."""

FEW_READINGS = 15
MOST_READINGS = 30
"""Where fifteen readings show no centre and width, so many more are asked for before the scan gives up."""

STEPS_IN_SPAN = 200
"""Where nobody says how finely the source can be set, round steps at least so small a share of the span are taken."""


@dataclass(slots=True)
class _Taken:
    """What was read, in order."""

    readings: list[tuple[float, ReadingTaken, Level | None]] = field(default_factory=list)


def round_step_hz(start_hz: float, stop_hz: float) -> float:
    """Give a step of 1, 2 or 5 times a power of ten that is no more than a two-hundredth of a span, at least 1 Hz."""
    most_hz = max((stop_hz - start_hz) / STEPS_IN_SPAN, 1.0)
    decade_hz = 10.0 ** math.floor(math.log10(most_hz))
    return max(factor * decade_hz for factor in (1.0, 2.0, 5.0) if factor * decade_hz <= most_hz)


def readings_by_hand(
    log: ScanLog, goal: ScanGoal, settle_s: float, step_hz: float, places_hz: tuple[float, ...] | None = None
) -> Steps:
    """Take the readings of a scan: at the given places, or where the search wants them until it has what it is for."""
    taken = _Taken()
    while True:
        search = _search(goal, taken) if places_hz is None else None
        if search is not None:
            move = choose(search)
            if isinstance(move, Finished):
                if goal.budget >= MOST_READINGS or _is_supported(search):
                    break
                goal = replace(goal, budget=MOST_READINGS)
                continue
            wanted_hz = move.frequency_hz
        else:
            assert places_hz is not None  # noqa: S101 - there is no search
            if len(taken.readings) >= len(places_hz):
                break
            wanted_hz = places_hz[len(taken.readings)]
        yield from _one(log, taken, _rounded(wanted_hz, goal, step_hz), settle_s)
        done = progress_of(search) if search is not None else len(taken.readings) / len(places_hz or (0.0,))
        yield from tell(Progress(done, None, f"Reading {len(taken.readings)}"))
    used = [reading.value for _, reading, level in taken.readings if level is not None]
    log.resolution_db = resolution_db([value for value in used if value is not None])


def _one(log: ScanLog, taken: _Taken, frequency_hz: float, settle_s: float) -> Steps:
    yield from set_frequency(frequency_hz)
    yield from settle(settle_s)
    reading = yield from read_meter("scan")
    if reading.mark is Mark.TAKEN_BACK:
        if taken.readings:
            _, last, level = taken.readings.pop()
            log.take_back(level)
            yield from tell(LevelTaken(last.index, last.frequency_hz or 0.0, None, used=False))
        return
    log.readings += 1
    level = yield from log.take(reading)
    taken.readings.append((frequency_hz, reading, level))


def _search(goal: ScanGoal, taken: _Taken) -> Search:
    """Begin anew with what was read: a reading taken back leaves no trace, and the few readings cost little."""
    search = begin(goal)
    for frequency_hz, _, level in taken.readings:
        search = observe(search, frequency_hz, None if level is None else level.level_db)
    return search


def _is_supported(search: Search) -> bool:
    fit = current_fit(search)
    return fit is not None and fit.centre is not None and fit.width_3db is not None


def _rounded(frequency_hz: float, goal: ScanGoal, step_hz: float) -> float:
    """Give the nearest frequency that can be set, within the span."""
    steps = round(frequency_hz / step_hz)
    if steps * step_hz < goal.start_hz:
        steps += 1
    if steps * step_hz > goal.stop_hz:
        steps -= 1
    return steps * step_hz
