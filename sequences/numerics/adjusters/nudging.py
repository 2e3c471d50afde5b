"""Step one adjuster through its peak: where to turn it next, how far to go back, and when it stands right.

The turns are the person's, so there are to be few: a nudge that hardly shows is made longer, the level is fitted
against the position (`step_and_fit`), and the last turn goes straight to where the fit puts the peak.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sequences.numerics.adjusters.step_and_fit import DB_PER_E, LEAST_POSITIONS, StepFit, fit_steps
from sequences.numerics.figures import Doubt, DoubtName, Estimate
from sequences.numerics.wording import say_db

HARDLY_SHOWS_DB = 1.5
LONGEST_NUDGE = 4.0
NEAR_ENOUGH = 0.08
SURE_ENOUGH = 0.15
FLAT_NUDGES = 8.0
FINEST_NUDGE = 0.25
FINEST_HALF_WIDTH = 0.125


@dataclass(frozen=True, slots=True)
class NudgeGoal:
    """How noisy a level is, how long a nudge is in turns, how far from the start may be turned, and how often."""

    sigma_db: float
    nudge_turns: float
    most_turns: float = 8.0
    budget: int = 40


@dataclass(frozen=True, slots=True)
class TurnedTo:
    """The level with the adjuster at a position, in turns from where it stood at the start, clockwise positive."""

    at_turns: float
    level_db: float


@dataclass(frozen=True, slots=True)
class TurnTo:
    """Turn to a position, which is so far from the present one, then read the level."""

    at_turns: float
    by_turns: float
    text: str


@dataclass(frozen=True, slots=True)
class OnPeak:
    """The adjuster stands on its peak: the peak's position, what was gained since the start, what is left to gain."""

    peak_turns: Estimate
    half_width_turns: float
    gain_db: Estimate
    left_db: Estimate
    text: str


@dataclass(frozen=True, slots=True)
class NoPeak:
    """The adjuster cannot be set so; the doubt says why and what to do."""

    doubt: Doubt


Decision = TurnTo | OnPeak | NoPeak


def suited_nudge(readings: Sequence[TurnedTo], nudge_turns: float) -> float:
    """Give the nudge in turns to go on with: twice as long where two nudges hardly changed the level, up to four times.

    Depends on the readings in their order alone, and never shrinks as more are taken.
    """
    factor, since = 1.0, 0
    for count in range(1, len(readings)):
        levels = [each.level_db for each in readings[since : count + 1]]
        if factor < LONGEST_NUDGE and len(levels) > 2 and max(levels) - min(levels) < HARDLY_SHOWS_DB:  # noqa: PLR2004 - two nudges
            factor, since = 2.0 * factor, count
    return factor * nudge_turns


def next_nudge(goal: NudgeGoal, readings: Sequence[TurnedTo]) -> Decision:
    """Decide the next turn from the readings so far, in the order taken, the first at the start position 0.

    Raises:
        ValueError: where there is no reading yet, or one is not a number.
    """
    if not readings:
        raise ValueError("An adjuster is stepped from a first reading with it where it stands.")
    if not all(math.isfinite(value) for each in readings for value in (each.at_turns, each.level_db)):
        raise ValueError("A position or a level of the adjuster is not a number; read that level again.")
    return _Walk(goal, readings).decide()


class _Walk:
    """The readings of one adjuster, their positions in nudges of the length now suited."""

    def __init__(self, goal: NudgeGoal, readings: Sequence[TurnedTo]) -> None:
        self.goal = goal
        self.nudge = suited_nudge(readings, goal.nudge_turns)
        self.x = np.array([each.at_turns for each in readings]) / self.nudge
        self.level = np.array([each.level_db for each in readings])

    def decide(self) -> Decision:
        if len(np.unique(self.x)) < LEAST_POSITIONS:
            return self._go_on()
        fit = fit_steps(self.x, self.level, self.goal.sigma_db)
        if fit.shape is not None and fit.peak_position is not None:
            return self._found(fit, fit.peak_position, fit.shape[2])
        doubt = fit.doubts[0]
        flat = doubt.name is DoubtName.NO_RISE and float(np.ptp(self.x)) >= FLAT_NUDGES
        if flat or doubt.name is DoubtName.POOR_FIT:
            return NoPeak(doubt)
        return self._go_on()

    def _go_on(self) -> Decision:
        """Extend the positions beyond the end that reads higher; the first turn is clockwise."""
        lowest, highest = int(np.argmin(self.x)), int(np.argmax(self.x))
        upwards = len(self.x) == 1 or self.level[highest] >= self.level[lowest]
        to = self.x[highest] + 1.0 if upwards else self.x[lowest] - 1.0
        return self._turn(float(to), "Not past the peak yet.")

    def _turn(self, to: float, why: str) -> Decision:
        if len(self.x) >= self.goal.budget:
            text = f"After {len(self.x)} readings the peak is still not known; start again, with steadier levels."
            return NoPeak(Doubt(DoubtName.UNCERTAIN, text))
        if abs(to) * self.nudge > self.goal.most_turns:
            text = (
                f"The peak lies beyond {self.goal.most_turns:g} turns from where the adjuster stood; its circuit is "
                "far off: suspect a part, or allow more travel."
            )
            return NoPeak(Doubt(DoubtName.NOT_BRACKETED, text))
        by = to - float(self.x[-1])
        return TurnTo(to * self.nudge, by * self.nudge, why)

    def _found(self, fit: StepFit, peak: Estimate, half_width: float) -> Decision:
        now = float(self.x[-1])
        if peak.sigma > SURE_ENOUGH * half_width:
            return self._turn(self._more_telling(peak.value, half_width), "One more level tells where the peak is.")
        finest = min(FINEST_NUDGE, FINEST_HALF_WIDTH * half_width)
        if abs(now - peak.value) > max(NEAR_ENOUGH * half_width, 0.51 * finest):
            return self._turn(round(peak.value / finest) * finest, fit.text)
        return self._on_peak(fit, peak, half_width)

    def _more_telling(self, peak: float, half_width: float) -> float:
        """Go to a half-width from the peak, on the side with fewer readings, where its level is steepest."""
        above = int(np.sum(self.x > peak))
        return peak + (half_width if 2 * above < len(self.x) else -half_width)

    def _on_peak(self, fit: StepFit, peak: Estimate, half_width: float) -> OnPeak:
        off = (float(self.x[-1]) - peak.value) / half_width
        unsure = peak.sigma / half_width
        left = DB_PER_E * math.log1p(off**2)
        further = DB_PER_E * math.log1p((abs(off) + unsure) ** 2)
        gain = fit.gain_db or Estimate(math.nan, math.inf)
        text = (
            f"The adjuster stands on its peak, {say_db(max(gain.value - left, 0.0))} up on the start: leave it there."
        )
        return OnPeak(
            peak_turns=Estimate(peak.value * self.nudge, peak.sigma * self.nudge),
            half_width_turns=half_width * self.nudge,
            gain_db=Estimate(gain.value - left, math.hypot(gain.sigma, further - left)),
            left_db=Estimate(left, further - left),
            text=text,
        )
