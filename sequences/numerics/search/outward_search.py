"""Look for a receiver's window with the source: outwards from where it should be, then up its slope to the top.

The window is taken for found at the first frequency that clearly moves the meter, and climbed from there by steps: the
nearest one wins, so that an image or a half-IF response farther away is never met while the receiver is in between.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

STEP_IN_WIDTHS = 0.5
"""Of the window's 3 dB width: so near to its middle a reading is always within 3 dB of its top."""

CLIMB_BEYOND = 1.5
"""How far beyond the reach a slope may be climbed, as a multiple of it."""


@dataclass(frozen=True, slots=True)
class OutwardGoal:
    """Where the window should be, how wide it is at 3 dB, how far off it may be, and what rise is clearly a signal.

    `clear_v` is in volts of the meter over what it reads without a signal, unsigned.
    """

    expected_hz: float
    width_hz: float
    reach_hz: float
    clear_v: float

    @property
    def step_hz(self) -> float:
        """How far apart the looks are."""
        return STEP_IN_WIDTHS * self.width_hz

    def at_hz(self, index: int) -> float:
        """Give the frequency of a look, so many steps from the expected one."""
        return self.expected_hz + index * self.step_hz


@dataclass(frozen=True, slots=True)
class Looked:
    """What the meter rose by at a frequency."""

    frequency_hz: float
    rise_v: float


@dataclass(frozen=True, slots=True)
class LookAt:
    """Set the source here next and read."""

    frequency_hz: float


@dataclass(frozen=True, slots=True)
class Seen:
    """The window's middle, as near as three readings a step apart tell; `rise_v` is the largest of them."""

    frequency_hz: float
    rise_v: float


@dataclass(frozen=True, slots=True)
class NotSeen:
    """Nothing rises within the reach."""


Decision = LookAt | Seen | NotSeen


def next_look(goal: OutwardGoal, looked: Sequence[Looked]) -> Decision:
    """Decide from the readings so far, in any order. Of two readings at one place the later counts.

    Raises:
        ValueError: where width or reach is not above zero.
    """
    if not (goal.width_hz > 0.0 and goal.reach_hz > 0.0):
        raise ValueError("A window is looked for by its width, and within a reach, both above zero.")
    rises = {round((each.frequency_hz - goal.expected_hz) / goal.step_hz): each.rise_v for each in looked}
    top = max(rises, key=lambda index: (rises[index], -abs(index)), default=None)
    if top is not None and rises[top] > goal.clear_v:
        return _climb(goal, rises, top)
    unread = next((index for index in _outwards(goal) if index not in rises), None)
    return NotSeen() if unread is None else LookAt(goal.at_hz(unread))


def _outwards(goal: OutwardGoal) -> list[int]:
    """List the steps by their distance from the expected frequency, those above it first."""
    last = int(goal.reach_hz / goal.step_hz)
    return [0, *(sign * number for number in range(1, last + 1) for sign in (1, -1))]


def _climb(goal: OutwardGoal, rises: Mapping[int, float], top: int) -> Decision:
    for neighbour in (top + 1, top - 1):
        if neighbour not in rises and abs(goal.at_hz(neighbour) - goal.expected_hz) <= CLIMB_BEYOND * goal.reach_hz:
            return LookAt(goal.at_hz(neighbour))
    return Seen(goal.at_hz(top) + goal.step_hz * _vertex(rises, top), rises[top])


def _vertex(rises: Mapping[int, float], top: int) -> float:
    """Give where a parabola through the rises about the top is highest, in steps from there, whatever their scale."""
    below, here, above = rises.get(top - 1, 0.0), rises[top], rises.get(top + 1, 0.0)
    curvature = 2.0 * here - below - above
    return 0.0 if not (math.isfinite(curvature) and curvature > 0.0) else 0.5 * (above - below) / curvature
