"""Measure selectivity: find the passband's top, walk down both skirts at constant output, read about each edge."""

import math
from collections.abc import Generator
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from sequences.alignment.outcome import Finding, StepOutcome, Task
from sequences.engine.asks import connect, set_controls
from sequences.engine.events import LevelTaken
from sequences.engine.requests import Request
from sequences.engine.run import Procedure
from sequences.engine.steps import read_meter, set_frequency, set_output, set_power, settle, tell
from sequences.errors import SequenceError
from sequences.kinds.selectivity.figures import DEEP_DB, SHALLOW_DB, SHAPE, Selectivity, findings_of
from sequences.kinds.selectivity.layout import width_choices, with_width
from sequences.numerics.figures import Estimate, mean_of
from sequences.numerics.levels.nearby_law import STEPS_DB, Floats, NearbyLaw
from sequences.numerics.levels.passband_top import PassbandTop, passband_top
from sequences.numerics.levels.skirt_walk import (
    Bracketed,
    LookThere,
    OutOfReach,
    SkirtGoal,
    SkirtLook,
    next_look,
)
from sequences.numerics.levels.skirt_width import SkirtReadings, width_at_depth
from sequences.numerics.wording import say_hz
from sequences.procedures.antenna import find_near, tune, where_of
from sequences.procedures.dials.dial_marks import window_width_hz
from sequences.procedures.dials.find_receiver import Finder
from sequences.procedures.sweeps.place import Place, place_of
from sequences.procedures.sweeps.source_level import read_volts

SPARE_DB = 3.0
"""How much of the source's range is kept for the looks beyond 60 dB and for the top that is not yet found."""

CLEAR_SIGMAS = 30.0
"""How far above its own noise the meter is to stand at the output that is held."""

LOUDER_DB = 5.0
LAW_ROUNDS = 3
ACROSS_READINGS = 17
ACROSS_ROUNDS = 2
ACROSS_SHARE = 0.9
"""Where the passband's top is looked for: so many readings, there and back, over this share of the 6 dB width."""

LAW_SIGMA_DB = 0.004
"""What a parabola may miss of the law about the output, and of a skirt between two looks. The source's own steps are
taken as true."""

REFERENCE_READINGS = 4
EDGE_PLACES, EDGE_ROUNDS = 4, 3
FARTHEST_SHARE = 0.4
"""Of the signal's frequency: a skirt is not followed further out."""

BEYOND = (1.4, 2.0)
"""How many times further out than the edge at 60 dB is looked whether the response rises again."""

SIDES = (-1.0, 1.0)


@dataclass(slots=True)
class _Look:
    """One spot at one width: the law about the output that is held, and both skirts as looked at so far."""

    place: Place
    finder: Finder
    law: NearbyLaw
    centre_hz: float
    power_dbm: float
    first_hz: float
    above_db: float = STEPS_DB[-1]
    looks: dict[float, list[SkirtLook]] = field(default_factory=lambda: {side: [] for side in SIDES})

    @property
    def most_db(self) -> float:
        """Give how much stronger the source can be made than at the top."""
        return self.place.highest_dbm - self.power_dbm


def selectivity(task: Task) -> Procedure[StepOutcome]:
    """Measure every spot of the task at every width; nothing is turned but the width control."""
    yield from connect(task.way.hookup, task.way.cautions)
    findings: list[Finding] = []
    doubts: list[str] = []
    control, choices = width_choices(task.receiver)
    for spot in task.step.spots:
        yield from tune(task, spot)
        for choice in choices:
            if control is not None and choice is not None:
                yield from set_controls({control: choice})
            at_width = replace(task, way=with_width(task.way, control, choice))
            where = _where(task, where_of(task, spot), choice)
            try:
                found, told = yield from _measured(at_width, spot.source_khz or 0.0)
            except SequenceError as error:
                findings.append(Finding(SHAPE, where, None, reason=str(error)))
            else:
                findings += findings_of(task, where, found)
                doubts += [f"At {where}: {doubt}" for doubt in told]
            yield from set_output(False)
    return StepOutcome(task.step.id, task.phase, tuple(findings), doubts=tuple(doubts))


def _where(task: Task, spot: str, choice: str | None) -> str:
    """Say which width a figure belongs to, and at which frequency, where there are several."""
    if choice is None:
        return spot
    return choice if len(task.step.spots) == 1 else f"{spot}, {choice}"


def _measured(task: Task, khz: float) -> Generator[Request, Any, tuple[Selectivity, list[str]]]:
    """Measure one spot at one width; give the figures, and doubts in words.

    Raises:
        SequenceError: the receiver is not heard, or the meter does not follow the source at any level.
    """
    place = place_of(task.receiver, task.way.hookup)
    finder, near_hz = yield from find_near(task, place, khz)
    look = yield from _begin(place, finder, near_hz, 0.5 * window_width_hz(task))
    top = yield from _find_top(look)
    look.power_dbm -= yield from _standing(look, top.frequency_hz)
    look.centre_hz, look.looks = top.frequency_hz, {side: [] for side in SIDES}
    brackets = yield from _both(look, SHALLOW_DB)
    before_db = yield from _reference(look)
    shallow_edges = yield from _about(look, brackets, SHALLOW_DB)
    between_db = yield from _reference(look)
    shallow = width_at_depth(shallow_edges, _reference_db([*before_db, *between_db], top))
    try:
        brackets = yield from _both(look, DEEP_DB)
    except _NotReachedError as error:
        return Selectivity(shallow, None, error.heard_hz, look.most_db, str(error)), []
    deep_edges = yield from _about(look, brackets, DEEP_DB)
    after_db = yield from _reference(look)
    deep = width_at_depth(deep_edges, _reference_db([*between_db, *after_db], top))
    doubts = yield from _rises_again(look, brackets)
    return Selectivity(shallow, deep, deep.width_hz.value, look.most_db), doubts


def _reference_db(offsets_db: list[float], top: PassbandTop) -> Estimate:
    return mean_of(offsets_db, math.hypot(top.short_db, LAW_SIGMA_DB))


def _begin(place: Place, finder: Finder, near_hz: float, first_hz: float) -> Generator[Request, Any, _Look]:
    """Choose the output that is held: as weak as leaves room for 60 dB, if it stands clear of the noise; else stronger.

    Raises:
        SequenceError: the meter does not follow the source at any level.
    """
    yield from set_frequency(near_hz)
    power_dbm = min(place.highest_dbm - DEEP_DB - SPARE_DB, finder.level.power_dbm)
    reason = ""
    while power_dbm + STEPS_DB[-1] <= place.highest_dbm:
        clear = yield from _rise_sigmas(place, finder, power_dbm + STEPS_DB[0])
        if clear >= CLEAR_SIGMAS or power_dbm >= finder.level.power_dbm:
            steps_db, volts = yield from _law_readings(place, power_dbm)
            try:
                law = NearbyLaw.from_steps(steps_db, volts, finder.quiet_v)
            except ValueError as error:
                reason = str(error)
            else:
                return _Look(place, finder, law, near_hz, power_dbm, first_hz)
        power_dbm += LOUDER_DB
    raise SequenceError(reason or "The meter does not stand clear of its noise at any level allowed.")


def _rise_sigmas(place: Place, finder: Finder, power_dbm: float) -> Generator[Request, Any, float]:
    """Give how far the meter stands above its quiet voltage, in sigmas of a quiet reading."""
    yield from set_power(power_dbm)
    yield from settle(place.settle_s)
    rise_v = abs((yield from read_volts("level")) - finder.quiet_v)
    return rise_v / max(finder.quiet_sigma_v, 1e-12)


def _law_readings(place: Place, power_dbm: float) -> Generator[Request, Any, tuple[Floats, Floats]]:
    """Step the source about a power, up and down in turns, so that drift cancels; give steps in dB and volts."""
    steps_db = np.array([step for turn in range(LAW_ROUNDS) for step in STEPS_DB[:: -1 if turn % 2 else 1]])
    volts = np.empty(steps_db.size)
    for number, step_db in enumerate(steps_db):
        yield from set_power(power_dbm + float(step_db))
        yield from settle(place.settle_s)
        volts[number] = yield from read_volts("law about the output")
    return steps_db, volts


def _offset(look: _Look, frequency_hz: float, above_db: float) -> Generator[Request, Any, float]:
    """Read how far the output lies off its target at a frequency, with the source so much stronger, in dB.

    The source grows weaker before it comes nearer: the strong signal of a skirt must never stand on the passband.
    """
    weaker_first = above_db < look.above_db
    look.above_db = above_db
    if weaker_first:
        yield from set_power(look.power_dbm + above_db)
    yield from set_frequency(frequency_hz)
    if not weaker_first:
        yield from set_power(look.power_dbm + above_db)
    yield from settle(look.place.settle_s)
    reading = yield from read_meter("selectivity")
    offset_db = np.inf if reading.value is None else look.law.offset_db(reading.value)
    level_db = offset_db - above_db if np.isfinite(offset_db) else None
    yield from tell(LevelTaken(reading.index, frequency_hz, level_db, used=level_db is not None))
    return float(offset_db)


class _NotReachedError(SequenceError):
    """A depth is beyond what source and detector allow; `heard_hz` is the width that is surely heard."""

    def __init__(self, reason: str, heard_hz: float) -> None:
        super().__init__(reason)
        self.heard_hz = heard_hz


def _both(look: _Look, depth_db: float) -> Generator[Request, Any, dict[float, Bracketed]]:
    """Bracket a depth on both skirts.

    Raises:
        _NotReachedError: source and detector do not allow it on one of them.
    """
    goal = SkirtGoal(depth_db, look.first_hz, FARTHEST_SHARE * look.centre_hz, look.most_db)
    found: dict[float, Bracketed] = {}
    missed: list[OutOfReach] = []
    for side in SIDES:
        decision = next_look(goal, look.looks[side])
        while isinstance(decision, LookThere):
            frequency_hz = look.centre_hz + side * decision.distance_hz
            offset_db = yield from _offset(look, frequency_hz, decision.above_db)
            look.looks[side].append(SkirtLook(decision.distance_hz, decision.above_db, offset_db))
            decision = next_look(goal, look.looks[side])
        if isinstance(decision, OutOfReach):
            missed.append(decision)
        else:
            found[side] = decision
    if missed:
        heard_hz = sum(each.heard_hz for each in missed) + sum(each.inner_hz for each in found.values())
        raise _NotReachedError(missed[0].reason, heard_hz)
    return found


def _find_top(look: _Look) -> Generator[Request, Any, PassbandTop]:
    """Read across the passband, there and back, and find its top."""
    brackets = yield from _both(look, SHALLOW_DB)
    ends_hz = [look.centre_hz + side * ACROSS_SHARE * brackets[side].inner_hz for side in SIDES]
    there = np.linspace(ends_hz[0], ends_hz[1], ACROSS_READINGS)
    places = np.concatenate([there[:: -1 if turn % 2 else 1] for turn in range(ACROSS_ROUNDS)])
    offsets = np.empty(places.size)
    for number, frequency_hz in enumerate(places):
        offsets[number] = yield from _offset(look, float(frequency_hz), 0.0)
    told = np.isfinite(offsets)
    if np.count_nonzero(told) < places.size - ACROSS_ROUNDS * 4:
        raise SequenceError(f"The passband near {say_hz(look.centre_hz)} is too uneven or too unsteady for its top.")
    return passband_top(places[told], offsets[told])


def _standing(look: _Look, frequency_hz: float) -> Generator[Request, Any, float]:
    """Give how far the output lies off its target at the top, in dB: by that the source is to be lowered."""
    middle = float(np.median((yield from _repeats(look, frequency_hz))))
    if not np.isfinite(middle):
        raise SequenceError(
            f"The level at {say_hz(frequency_hz)} changed while the passband was read. Measure it again."
        )
    return middle


def _reference(look: _Look) -> Generator[Request, Any, list[float]]:
    """Read the top again with the source not raised; give the offsets in dB.

    Raises:
        SequenceError: the level there has changed.
    """
    offsets = yield from _repeats(look, look.centre_hz)
    if not np.isfinite(offsets).all():
        raise SequenceError("The level at the passband's top changed while its skirts were read. Measure it again.")
    return offsets


def _repeats(look: _Look, frequency_hz: float) -> Generator[Request, Any, list[float]]:
    """Read the offset at a frequency again and again, with the source not raised, in dB."""
    offsets = np.empty(REFERENCE_READINGS)
    for number in range(REFERENCE_READINGS):
        offsets[number] = yield from _offset(look, frequency_hz, 0.0)
    return offsets.tolist()


def _about(
    look: _Look, brackets: dict[float, Bracketed], depth_db: float
) -> Generator[Request, Any, tuple[SkirtReadings, SkirtReadings]]:
    """Read about both edges in turns, so that a drift of frequency or level cancels to first order."""
    places = {
        side: np.geomspace(bracket.inner_hz, bracket.outer_hz, EDGE_PLACES).tolist()
        for side, bracket in brackets.items()
    }
    read: dict[float, list[tuple[float, float]]] = {side: [] for side in SIDES}
    for turn in range(EDGE_ROUNDS):
        for number in range(EDGE_PLACES):
            for side in SIDES if turn % 2 == 0 else SIDES[::-1]:
                distance_hz = places[side][number if turn % 2 == 0 else -1 - number]
                offset_db = yield from _offset(look, look.centre_hz + side * distance_hz, depth_db)
                read[side].append((distance_hz, offset_db))
    lower, upper = (_readings(brackets[side], read[side]) for side in SIDES)
    return lower, upper


def _readings(bracket: Bracketed, read: list[tuple[float, float]]) -> SkirtReadings:
    distances, offsets = np.array(read).T
    return SkirtReadings(bracket.inner_hz, bracket.outer_hz, distances, offsets)


def _rises_again(look: _Look, brackets: dict[float, Bracketed]) -> Generator[Request, Any, list[str]]:
    """Look further out than the edges at 60 dB whether the receiver hears more there; say so in words."""
    doubts = []
    for side in SIDES:
        for share in BEYOND:
            frequency_hz = look.centre_hz + side * share * brackets[side].outer_hz
            if share * brackets[side].outer_hz > FARTHEST_SHARE * look.centre_hz:
                continue
            if (yield from _offset(look, frequency_hz, DEEP_DB)) > 0.0:
                doubts.append(
                    f"The response rises again at {say_hz(frequency_hz)}, outside its 60 dB width: the receiver hears "
                    "a strong station there too."
                )
    return doubts
