"""Walk down one skirt of a passband by constant output: ever further out, ever stronger, the output about the same.

Each look stands at a distance from the passband's top with the source so much stronger; where the output then lies a
little above or below the target, the skirt's depth there is known. Each decision is a pure function of the looks so
far. The output never rises much above the target, so that neither gain control nor detector is driven.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from sequences.numerics.levels.nearby_law import REACH_DB

STEP_DB = 6.0
"""How much deeper each look aims than the last one."""

NEAR_DB = 1.2
ASIDE_DB = 0.6
"""Looks this near to the depth on either side bracket it; one side missing is aimed at so far beyond the depth."""

NARROW = 1.002
"""Distances this near each other bracket a wall too steep to be read on."""

LONGEST_RATIO, SHORTEST_RATIO = 1.5, 1.02
LEAST_SLOPE_DB = 5.0
FLAT_DB = 1.5
WIDER = 1.25
SHARES = (0.1, 0.9)
MOST_LOOKS = 60


@dataclass(frozen=True, slots=True)
class SkirtLook:
    """How far out, in Hz from the top, how much stronger the source was, and how far the output lay off its target.

    `offset_db` is infinite, of its sign, where the output lay beyond the reach of the law.
    """

    distance_hz: float
    above_db: float
    offset_db: float

    @property
    def is_told(self) -> bool:
        """Tell whether the depth is known."""
        return math.isfinite(self.offset_db)

    @property
    def at_least_db(self) -> float:
        """Give what the skirt is down by at least."""
        if self.is_told:
            return self.above_db - self.offset_db
        return self.above_db + REACH_DB if self.offset_db < 0.0 else -math.inf

    @property
    def at_most_db(self) -> float:
        """Give what it is down by at most."""
        if self.is_told:
            return self.above_db - self.offset_db
        return self.above_db - REACH_DB if self.offset_db > 0.0 else math.inf


@dataclass(frozen=True, slots=True)
class SkirtGoal:
    """The depth wanted, the distance to begin at, the farthest that makes sense, and how much stronger there is."""

    depth_db: float
    first_hz: float
    farthest_hz: float
    most_db: float


@dataclass(frozen=True, slots=True)
class LookThere:
    """Set the source there, so much stronger, and read the meter."""

    distance_hz: float
    above_db: float


@dataclass(frozen=True, slots=True)
class Bracketed:
    """The depth lies between these distances."""

    inner_hz: float
    outer_hz: float


@dataclass(frozen=True, slots=True)
class OutOfReach:
    """The depth cannot be reached: at `heard_hz` the skirt is surely not yet so far down. `reason` is one sentence."""

    heard_hz: float
    reason: str


def next_look(goal: SkirtGoal, looks: Sequence[SkirtLook]) -> LookThere | Bracketed | OutOfReach:
    """Decide what to do next, given the looks so far."""
    if goal.most_db < goal.depth_db:
        return _reach(goal, looks)
    outer = min(
        (look for look in looks if look.at_least_db > goal.depth_db), key=lambda look: look.distance_hz, default=None
    )
    beyond_hz = math.inf if outer is None else outer.distance_hz
    heard = [look for look in looks if look.at_most_db <= goal.depth_db and look.distance_hz < beyond_hz]
    inner = max(heard, key=lambda look: look.distance_hz, default=SkirtLook(0.0, 0.0, 0.0))
    if len(looks) >= MOST_LOOKS:
        return OutOfReach(inner.distance_hz, "The output is too unsteady for its edge to be found.")
    unsure = [look for look in looks if inner.distance_hz < look.distance_hz < beyond_hz]
    if unsure:
        last = max(unsure, key=lambda look: (look.distance_hz, look.above_db))
        return LookThere(last.distance_hz, min(last.at_least_db + REACH_DB, goal.depth_db))
    return _outwards(goal, looks, inner) if outer is None else _between(goal, inner, outer)


def _reach(goal: SkirtGoal, looks: Sequence[SkirtLook]) -> LookThere | OutOfReach:
    """Walk as deep as the source allows; what is found there is a bound."""
    shallower = SkirtGoal(goal.most_db, goal.first_hz, goal.farthest_hz, goal.most_db)
    found = next_look(shallower, looks) if goal.most_db > FLAT_DB else OutOfReach(0.0, "")
    if isinstance(found, LookThere):
        return found
    heard_hz = found.inner_hz if isinstance(found, Bracketed) else found.heard_hz
    return OutOfReach(heard_hz, "The source cannot be set strong enough.")


def _outwards(goal: SkirtGoal, looks: Sequence[SkirtLook], inner: SkirtLook) -> LookThere | OutOfReach:
    if inner.distance_hz == 0.0:
        return LookThere(goal.first_hz, min(STEP_DB, goal.depth_db))
    depth_db = inner.at_most_db
    # Where the output lay above the law's reach, the source is no stronger at the next look.
    target_db = min(depth_db + (STEP_DB if inner.is_told else REACH_DB), goal.depth_db + ASIDE_DB)
    told = sorted((look for look in looks if look.is_told), key=lambda look: look.distance_hz)
    ratio = WIDER
    if inner.is_told and depth_db > FLAT_DB:
        before = next((look for look in reversed(told) if look.distance_hz < inner.distance_hz), None)
        slope_db = _slope_db(before, inner)
        ratio = math.exp((target_db - depth_db) / slope_db)
    distance_hz = inner.distance_hz * min(max(ratio, SHORTEST_RATIO), LONGEST_RATIO)
    if distance_hz > goal.farthest_hz:
        return OutOfReach(inner.distance_hz, "The response does not fall so far where it could be followed.")
    return LookThere(distance_hz, min(target_db, goal.depth_db))


def _slope_db(before: SkirtLook | None, inner: SkirtLook) -> float:
    """Give how many decibels the skirt falls for each factor of e in distance."""
    if before is None:
        return 4.0 * LEAST_SLOPE_DB
    fall_db = inner.at_most_db - before.at_most_db
    return max(fall_db / math.log(inner.distance_hz / before.distance_hz), LEAST_SLOPE_DB)


def _between(goal: SkirtGoal, inner: SkirtLook, outer: SkirtLook) -> LookThere | Bracketed:
    """Close the bracket: aimed at the depth, or a little beyond it where one side is near already."""
    is_near = (
        inner.is_told and goal.depth_db - inner.at_most_db <= NEAR_DB,
        outer.is_told and outer.at_least_db - goal.depth_db <= NEAR_DB,
    )
    if all(is_near) or (inner.distance_hz > 0.0 and outer.distance_hz / inner.distance_hz < NARROW):
        return Bracketed(inner.distance_hz, outer.distance_hz)
    if inner.distance_hz == 0.0:
        return LookThere(0.5 * outer.distance_hz, min(STEP_DB, goal.depth_db))
    share = 0.5
    if inner.is_told and outer.is_told:
        aside_db = ASIDE_DB * (is_near[0] - is_near[1])
        aim_db = goal.depth_db + aside_db - inner.at_most_db
        share = min(max(aim_db / (outer.at_least_db - inner.at_most_db), SHARES[0]), SHARES[1])
    return LookThere(inner.distance_hz * (outer.distance_hz / inner.distance_hz) ** share, goal.depth_db)
