"""Zero beat by ear with few questions: where to put the source next, and where zero beat is.

The person says of a source that has just gone up a little whether the note rose (the source is above zero beat), fell
(below it), or is not there (within the silent zone about it). What is known of zero beat and of the zone's half-width
is kept as a probability over a grid of both; each answer multiplies it by how likely that answer was (Bayes), and the
next question is the one whose answer is expected to tell most about zero beat (its mutual information with it, in the
sense of Shannon 1948). So what was known before, from an oscillator's limit or from the last measurement, saves
questions, and one slip of the ear among several answers is outvoted.

The ear fails at the same pitch on either side and a minute later too (common practice, no source), so that the zone's
half-width, once learnt, helps the next time.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from scipy.special import entr, ndtr

from sequences.numerics.arrays import Array
from sequences.numerics.figures import Estimate
from sequences.numerics.wording import say_hz

USUAL_HALF_ZONE_HZ = 30.0
HALF_ZONE_SPREAD = 2.0
LOWEST_HALF_ZONE_HZ, HIGHEST_HALF_ZONE_HZ = 3.0, 120.0
"""Notes below 20 to 50 Hz are not heard (common practice, no source); the spread is a factor either way, one sigma."""

HALF_ZONES = 16
COARSE_STEPS, FINE_STEPS = 401, 241
CANDIDATES = 11

ELSEWHERE = 0.1
"""The chance that zero beat is anywhere within reach, or a little beyond, rather than about where it is expected."""

BEYOND = 1.1
SLIP = 0.02
"""The grid's ends in reaches; the chance that an answer is a slip."""

MOST_QUESTIONS = 25
MOST_SLIPS = 1
ONE_SIGMA_AND_MIDDLE = (0.1587, 0.5, 0.8413)
"""Of a normal distribution."""

NEVER_A_NOTE = 6
"""How many silences and no note mean that there is nothing to be heard at all."""

LEAST_SHARE = 1e-6
"""Of the highest probability: what is less likely is left out of the fine grid."""


class Note(StrEnum):
    """What the note did when the source went up a little."""

    ROSE = "rose"
    FELL = "fell"
    SILENT = "silent"


@dataclass(frozen=True, slots=True)
class Heard:
    """One answer, at the frequency where the source then stood."""

    source_hz: float
    note: Note


@dataclass(frozen=True, slots=True)
class EarGoal:
    """What is looked for.

    `expected_hz`: where zero beat should be, and how well that is known. `target_hz`: where it belongs; it is looked
    for within `reach_hz` of that. `fine_hz`: how well it is wanted, one sigma; farther from the target a `share` of the
    distance will do. `edge_sigma_hz`: how well an edge of the zone is told by ear. `step_up_hz`: how far the source
    goes up each time. `half_zone_hz`: the silent zone's half-width where that was learnt.
    """

    expected_hz: Estimate
    target_hz: float
    reach_hz: float
    fine_hz: float
    edge_sigma_hz: float
    step_up_hz: float
    share: float = 0.0
    half_zone_hz: Estimate | None = None


@dataclass(frozen=True, slots=True)
class ListenAt:
    """Put the source there and ask."""

    source_hz: float


@dataclass(frozen=True, slots=True)
class ZeroHeard:
    """Zero beat, and the silent zone's half-width as far as the answers told it."""

    zero_hz: Estimate
    half_zone_hz: Estimate


@dataclass(frozen=True, slots=True)
class NotHeard:
    """Zero beat was not found; the sentence says why."""

    reason: str


EarDecision = ListenAt | ZeroHeard | NotHeard


def next_question(goal: EarGoal, heard: Sequence[Heard]) -> EarDecision:
    """Decide after what was heard so far."""
    if len(heard) >= NEVER_A_NOTE and all(each.note is Note.SILENT for each in heard):
        return NotHeard(
            "No note is heard anywhere: turn the volume up, see that the beat oscillator is on, and listen."
        )
    belief = _Belief(goal, heard)
    if belief.slips() > MOST_SLIPS:
        return NotHeard("The answers contradict each other: see that the note is loud and steady, and listen again.")
    zero_hz = belief.zero_hz()
    if heard and zero_hz.sigma <= max(goal.fine_hz, goal.share * abs(zero_hz.value - goal.target_hz)):
        return _found(goal, belief, zero_hz)
    if len(heard) >= MOST_QUESTIONS:
        return NotHeard(f"After {len(heard)} answers zero beat is not known: see that the oscillators are steady.")
    return ListenAt(belief.most_telling_hz())


def _found(goal: EarGoal, belief: "_Belief", zero_hz: Estimate) -> ZeroHeard | NotHeard:
    if abs(zero_hz.value - goal.target_hz) > goal.reach_hz:
        return NotHeard(
            f"No silent zone was found within {say_hz(goal.reach_hz)} of {say_hz(goal.target_hz)}: see that the beat "
            "oscillator is on and the note is loud, and measure again."
        )
    return ZeroHeard(zero_hz, belief.half_zone_hz())


class _Belief:
    """The probability over zero beat, rows, and the zone's half-width, columns; frequencies from the target."""

    def __init__(self, goal: EarGoal, heard: Sequence[Heard]) -> None:
        self.goal, self.heard = goal, heard
        self.half = np.geomspace(LOWEST_HALF_ZONE_HZ, HIGHEST_HALF_ZONE_HZ, HALF_ZONES)
        end_hz = BEYOND * goal.reach_hz
        self._spread_over(np.linspace(-end_hz, end_hz, COARSE_STEPS))
        likely = np.flatnonzero(self.weight.sum(axis=1) > LEAST_SHARE * self.weight.sum(axis=1).max())
        low, high = max(likely[0] - 1, 0), min(likely[-1] + 1, COARSE_STEPS - 1)
        self._spread_over(np.linspace(self.zero[low], self.zero[high], FINE_STEPS))

    def _spread_over(self, zero: Array) -> None:
        self.zero = zero
        weight = self._prior()
        for each in self.heard:
            weight = weight * self._likelihood(each.source_hz - self.goal.target_hz)[each.note]
        self.weight: Array = weight / weight.sum()

    def _prior(self) -> Array:
        expected = self.goal.expected_hz
        off = (self.zero - (expected.value - self.goal.target_hz)) / max(expected.sigma, self.goal.fine_hz)
        step = self.zero[1] - self.zero[0]
        about = np.exp(-0.5 * off**2)
        at_expected = about / max(expected.sigma, self.goal.fine_hz) / math.sqrt(2.0 * math.pi) * step
        anywhere = np.full_like(self.zero, step / (2.0 * BEYOND * self.goal.reach_hz))
        learnt = self.goal.half_zone_hz
        if learnt is None:
            off_half = np.log(self.half / USUAL_HALF_ZONE_HZ) / math.log(HALF_ZONE_SPREAD)
        else:
            off_half = (self.half - learnt.value) / max(learnt.sigma, self.goal.edge_sigma_hz)
        width = np.exp(-0.5 * off_half**2) + LEAST_SHARE
        both: Array = ((1.0 - ELSEWHERE) * at_expected + ELSEWHERE * anywhere)[:, None] * width / width.sum()
        return both

    def _likelihood(self, source: float) -> dict[Note, Array]:
        """How likely each answer is with the source there, for every cell."""
        above = (source - self.zero)[:, None]
        heard = ndtr((np.abs(above) - self.half) / self.goal.edge_sigma_hz)
        rises = above > 0.5 * self.goal.step_up_hz
        sure = {Note.ROSE: heard * rises, Note.FELL: heard * ~rises, Note.SILENT: 1.0 - heard}
        return {note: (1.0 - SLIP) * likely + SLIP / len(sure) for note, likely in sure.items()}

    def zero_hz(self) -> Estimate:
        """Give the middle of what zero beat may be, and half of what two in three chances leave.

        Quantiles, since the small chance of a slip lies far out and would swell a standard deviation.
        """
        low, middle, high = np.interp(ONE_SIGMA_AND_MIDDLE, np.cumsum(self.weight.sum(axis=1)), self.zero)
        return Estimate(self.goal.target_hz + float(middle), 0.5 * float(high - low))

    def half_zone_hz(self) -> Estimate:
        """Give the silent zone's half-width and its one-sigma."""
        weight = self.weight.sum(axis=0)
        mean = float(weight @ self.half)
        return Estimate(mean, math.sqrt(float(weight @ (self.half - mean) ** 2)))

    def slips(self) -> int:
        """Count the answers that do not go with the likeliest zero beat and zone."""
        row, column = np.unravel_index(int(np.argmax(self.weight)), self.weight.shape)
        likely = (self._likelihood(each.source_hz - self.goal.target_hz)[each.note] for each in self.heard)
        return sum(float(each[row, column]) <= SLIP for each in likely)

    def most_telling_hz(self) -> float:
        """Choose the source's place whose answer should tell most about zero beat."""
        rises = np.cumsum(self.weight.sum(axis=1))
        shares = (np.arange(CANDIDATES) + 0.5) / CANDIDATES
        zeros = np.interp(shares, rises, self.zero)
        half = self.half_zone_hz().value
        places = np.unique(np.concatenate([zeros, zeros - half, zeros + half]).round(1))
        return self.goal.target_hz + float(max(places, key=self._tells))

    def _tells(self, source: float) -> float:
        """Give the mutual information of the answer with zero beat, in nats, but for what every place has alike."""
        left = 0.0
        for likely in self._likelihood(float(source)).values():
            joint = (self.weight * likely).sum(axis=1)
            chance = float(joint.sum())
            left += float(entr(joint).sum()) - float(entr(chance))
        return -left
