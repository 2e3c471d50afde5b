"""Turn an adjuster until a note is gone, by nothing but which side it is on: growing steps, then halving."""

from collections.abc import Sequence
from dataclasses import dataclass

FIRST_NUDGES = 2.0
MOST_TURNS = 4.0
FINEST_TURNS = 0.03
BESIDE = 1.5
"""Of half the silent zone: about where the last note before silence lies."""


@dataclass(frozen=True, slots=True)
class NullGoal:
    """The adjuster's nudge, and what clockwise does to the frequency: +1 raises it, -1 lowers, 0 is not known."""

    nudge_turns: float
    clockwise: int


@dataclass(frozen=True, slots=True)
class Sided:
    """The side with the adjuster so many turns clockwise from the start: +1 too high, -1 too low, 0 no note."""

    at_turns: float
    side: int


@dataclass(frozen=True, slots=True)
class TurnOn:
    """Turn so far, clockwise where positive, and listen again."""

    turns: float


@dataclass(frozen=True, slots=True)
class Nulled:
    """The note is gone, or between two places closer than fingers can set."""


@dataclass(frozen=True, slots=True)
class NoNull:
    """The side never changed, either way."""


def turns_a_hertz(sided: Sequence[Sided], half_zone_hz: float) -> float | None:
    """Guess roughly how far to turn for a hertz, unsigned; None where silence came at once.

    Where a note was last heard before the silence the error was a little more than half the silent zone.
    """
    noted = [each.at_turns for each in sided if each.side]
    if not noted:
        return None
    return min(abs(at - sided[-1].at_turns) for at in noted) / (BESIDE * half_zone_hz)


def next_null_turn(goal: NullGoal, sided: Sequence[Sided]) -> TurnOn | Nulled | NoNull:
    """Say how far to turn after what was heard, in the order it was heard.

    Raises:
        ValueError: nothing was heard yet.
    """
    if not sided:
        raise ValueError("Before the first turn the side must be known.")
    last = sided[-1]
    if last.side == 0:
        return Nulled()
    other = [each.at_turns for each in sided if each.side == -last.side]
    if other:
        across = min((at - last.at_turns for at in other), key=abs)
        return Nulled() if abs(across) < FINEST_TURNS else TurnOn(0.5 * across)
    return _go_on(goal, sided)


def _go_on(goal: NullGoal, sided: Sequence[Sided]) -> TurnOn | NoNull:
    """Go the way that should help, in growing steps; where that is not known, and one way did not help, the other."""
    here = sided[-1].at_turns
    farthest = {way: max((way * each.at_turns for each in sided), default=0.0) for way in (1, -1)}
    ways = (-sided[0].side * goal.clockwise,) if goal.clockwise else (1, -1)
    for way in ways:
        if farthest[way] < MOST_TURNS:
            step = max(farthest[way], FIRST_NUDGES * goal.nudge_turns)
            return TurnOn(way * min(farthest[way] + step, MOST_TURNS) - here)
    return NoNull()
