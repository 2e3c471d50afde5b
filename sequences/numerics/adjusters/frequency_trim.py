"""Bring an oscillator's error to zero by turns of its adjuster: how far to turn next, and when to stop.

A first small turn tells how many hertz a turn is worth, each further one goes where the error should be zero.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from sequences.numerics.figures import Estimate

SURE_SIGMAS = 2.0
SHOWS_SIGMAS = 4.0
NEAR_ENOUGH = 1.0 / 3.0
"""Of the limit: an error this small is left, for it will drift by as much."""

FINEST_TURNS = 0.04
"""A smaller turn is asked for only where the error is still beyond its limit."""

LONGEST_TURNS = 2.0
FLAT_TRIES = 3
BUDGET = 12
WIDEST_LOOK_BACK = 4

SLOPE_SIGMA = 0.15
"""How well a few turns tell what a turn is worth, as a share: slugs are not straight, nor fingers exact."""

GUESSED_LEFT, GUESSED_SIGMA, GUESSED_LEAST_HZ = 0.4, 0.6, 60.0
"""What a first turn may leave of an error, and how uncertain that is: as shares of the error, but in Hz no less."""


@dataclass(frozen=True, slots=True)
class TrimGoal:
    """The error allowed either way, the first turn, and what clockwise does: 'raises', 'lowers' or 'unknown'."""

    limit_hz: float
    nudge_turns: float
    clockwise: str


@dataclass(frozen=True, slots=True)
class Tried:
    """The error with the adjuster so many turns clockwise from where it stood at the start."""

    at_turns: float
    error_hz: Estimate


@dataclass(frozen=True, slots=True)
class TurnBy:
    """Turn so far, clockwise where positive, and measure again."""

    turns: float


@dataclass(frozen=True, slots=True)
class Trimmed:
    """Nothing more is to be gained by turning. `no_effect`: the adjuster was turned and the frequency did not move."""

    no_effect: bool = False


def next_turn(goal: TrimGoal, tried: Sequence[Tried]) -> TurnBy | Trimmed:
    """Say how far to turn after what was tried, in the order it was tried.

    Raises:
        ValueError: nothing was measured yet.
    """
    if not tried:
        raise ValueError("Before the first turn the error must be known.")
    error = tried[-1].error_hz
    within = abs(error.value) + SURE_SIGMAS * error.sigma <= goal.limit_hz
    if (within and abs(error.value) <= NEAR_ENOUGH * goal.limit_hz) or len(tried) > BUDGET:
        return Trimmed()
    if len(tried) == 1:
        return TurnBy(_first_turn(goal, error))
    slope_hz = _hertz_per_turn(tried)
    if slope_hz is None:
        return Trimmed(no_effect=True) if len(tried) > FLAT_TRIES else TurnBy(2.0 * _last_turn(tried))
    turns = min(max(-error.value / slope_hz, -LONGEST_TURNS), LONGEST_TURNS)
    return Trimmed() if within and abs(turns) < FINEST_TURNS else TurnBy(turns)


def expected_error(tried: Sequence[Tried], turns: float) -> Estimate:
    """Say about where the error should be after one more turn, for whoever must look for it.

    Before anything is known of what a turn is worth it is a guess: somewhat nearer, and hardly farther.
    """
    error = tried[-1].error_hz
    slope_hz = _hertz_per_turn(tried) if len(tried) > 1 else None
    if slope_hz is None:
        return Estimate(GUESSED_LEFT * error.value, max(GUESSED_SIGMA * abs(error.value), GUESSED_LEAST_HZ))
    return Estimate(error.value + slope_hz * turns, error.sigma + SLOPE_SIGMA * abs(slope_hz * turns))


def _first_turn(goal: TrimGoal, error_hz: Estimate) -> float:
    towards = -1.0 if error_hz.value > 0.0 else 1.0
    return -towards * goal.nudge_turns if goal.clockwise == "lowers" else towards * goal.nudge_turns


def _last_turn(tried: Sequence[Tried]) -> float:
    return tried[-1].at_turns - tried[-2].at_turns


def _hertz_per_turn(tried: Sequence[Tried]) -> float | None:
    """Give the slope between the last position and the one farthest from it of the latest few; None where flat."""
    last = tried[-1]
    other = max(tried[-WIDEST_LOOK_BACK:-1], key=lambda each: abs(each.at_turns - last.at_turns))
    moved_hz = last.error_hz.value - other.error_hz.value
    noise_hz = (last.error_hz.sigma**2 + other.error_hz.sigma**2) ** 0.5
    turned = last.at_turns - other.at_turns
    if turned == 0.0 or abs(moved_hz) <= SHOWS_SIGMAS * noise_hz:
        return None
    return moved_hz / turned
