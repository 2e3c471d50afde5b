"""Signal meter: which level at the antenna each of its marks stands for, by constant output.

Source of the scale: IARU Region 1 Technical Recommendation R.1, S9 at -73 dBm below 30 MHz and -93 dBm above, 6 dB a
unit. Loss between source and antenna is the engine's to add.
"""

import math
from collections.abc import Generator
from typing import Any

from sequences.alignment.outcome import Finding, StepOutcome, Task
from sequences.engine.asks import connect
from sequences.engine.requests import Request
from sequences.engine.run import Procedure
from sequences.engine.steps import set_output
from sequences.errors import SequenceError
from sequences.numerics.figures import Estimate
from sequences.numerics.levels.passband_top import PassbandTop
from sequences.numerics.levels.s_units import db_per_unit, mark_db, s9_dbm
from sequences.numerics.verdicts.verdict import Signs, judge_error
from sequences.numerics.wording import say_db
from sequences.plan.content import Culprit, Limit, Step
from sequences.procedures.antenna import antenna_step, find_top, tune, where_of
from sequences.procedures.dials.find_receiver import Finder
from sequences.procedures.kind import Kind
from sequences.procedures.sweeps.held_output import HeldOutput
from sequences.procedures.sweeps.place import Place, place_of
from sequences.procedures.sweeps.source_level import SourceLevel
from sequences.quantities import Phrase, Quantity, Sense
from sequences.receiver.chain import mid_band
from sequences.receiver.model import Receiver

NAME = "signal meter"
S9 = "S9"
ERROR = Quantity(
    "s9-error",
    "S9 error against IARU Region 1 R.1",
    "dB",
    Sense.EITHER_WAY,
    "how much stronger than the recommended S9 a signal must be for the meter to stand on S9",
    Phrase("with S9 {size}{way}", " above the recommended level", " below the recommended level", " off"),
)
LEVEL = Quantity("s-mark-level", "level at this mark", "dBm", meaning="the power at the antenna that brings it there")
UNIT = Quantity(
    "s-unit", "one S-unit, mean up to S9", "dB", meaning="how many decibels one S-unit of this meter is: 6 in R.1"
)
WORDS = (
    "the source's level at which the meter stands on each of its marks",
    "the source alone tells the level, whatever law the meter follows",
)
MEANING = "A signal meter that follows the common scale lets an owner compare reports with other stations."


def signal_meter(task: Task) -> Procedure[StepOutcome]:
    """Find the level at each mark, weakest first; nothing is turned."""
    place = place_of(task.receiver, task.way.hookup)
    yield from connect(task.way.hookup, task.way.cautions)
    (spot,) = task.step.spots
    yield from tune(task, spot)
    where, khz = where_of(task, spot), spot.source_khz or 0.0
    try:
        finder, top = yield from find_top(task, place, khz)
        levels, missed = yield from _levels(task, place, finder, top)
    except SequenceError as error:
        return StepOutcome(task.step.id, task.phase, (Finding(ERROR, where, None, reason=str(error)),))
    yield from set_output(False)
    findings = [_error(task, where, khz, levels.get(S9), missed.get(S9, ""))]
    findings += [Finding(LEVEL, mark, level) for mark, level in levels.items()]
    unit = db_per_unit(levels)
    if unit is not None:
        findings.append(Finding(UNIT, where, unit))
    doubts = tuple(f"{mark} was not reached: {reason}" for mark, reason in missed.items() if mark != S9)
    return StepOutcome(task.step.id, task.phase, tuple(findings), doubts=doubts)


def _error(task: Task, where: str, khz: float, level: Estimate | None, reason: str) -> Finding:
    if level is None:
        return Finding(ERROR, where, None, reason=reason)
    error = Estimate(level.value - s9_dbm(khz), level.sigma)
    name, signs = f"The level at S9 at {where}", Signs(nothing_to_turn=True)
    return Finding(ERROR, where, error, judge_error(name, error, task.step.limits[0].most, say_db, signs=signs))


def _levels(
    task: Task, place: Place, finder: Finder, top: PassbandTop
) -> Generator[Request, Any, tuple[dict[str, Estimate], dict[str, str]]]:
    """Give the source's power in dBm at each mark, and why there is none at the others."""
    marks = task.receiver.meter_points[place.meter].s_marks_v
    sigma_v = max(finder.quiet_sigma_v, finder.level.volts_sigma)
    power_dbm = finder.level.power_dbm
    levels: dict[str, Estimate] = {}
    missed: dict[str, str] = {}
    for mark in sorted(marks, key=lambda one: mark_db(one) or 0.0):
        level = SourceLevel(power_dbm, top.frequency_hz, marks[mark], sigma_v)
        held = HeldOutput(level, place.highest_dbm, place.settle_s)
        try:
            found = yield from held.read(top.frequency_hz, mark)
        except SequenceError as error:
            missed[mark] = str(error)
            continue
        power_dbm = -found.value
        levels[mark] = Estimate(-found.value, math.hypot(found.sigma, top.short_db))
    return levels, missed


def _steps(receiver: Receiver) -> list[Step]:
    most_db = receiver.limits.s9_db
    meter = next((name for name, point in receiver.meter_points.items() if S9 in point.s_marks_v), None)
    if most_db is None or meter is None:
        return []
    middle = mid_band(receiver, next(iter(receiver.bands)))
    return antenna_step(receiver, NAME, Limit(ERROR, most_db), WORDS, MEANING, (middle,), meter, Culprit.CONTROL)


KIND = Kind(NAME, _steps, signal_meter, (ERROR, LEVEL, UNIT))
