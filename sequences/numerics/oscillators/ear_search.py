"""Zero beat by ear with few questions: where to put the source next, and where zero beat is.

The person says of a source that has just gone up a little whether the note rose (the source is above the silent zone),
fell (below it), or is not there (within it). Each answer halves what is not known: first of where the silent zone is,
then of where its two edges are, midway between which zero beat lies. The ear fails at the same pitch on either side and
a minute later too (common practice, no source), so that the zone's half-width is learnt once, and one edge then tells.
"""

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from sequences.numerics.figures import Estimate
from sequences.numerics.wording import say_hz

USUAL_HALF_ZONE_HZ = 30.0
"""Where an edge is looked for first (common practice, no source: notes below 20 to 50 Hz are not heard)."""

MOST_QUESTIONS = 30
UNIFORM = 1.0 / math.sqrt(12.0)
"""One sigma of what lies anywhere within an interval, in its widths."""


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

    `expected_hz`: where zero beat should be, `spread_hz`: how far beside it may well be. `reach_hz`: as far as it is
    looked for. `half_zone_hz`: the silent zone's half-width where that was learnt. `fine_hz`: how nearly an edge is
    wanted.
    """

    expected_hz: float
    spread_hz: float
    reach_hz: float
    fine_hz: float
    edge_sigma_hz: float
    half_zone_hz: Estimate | None = None


@dataclass(frozen=True, slots=True)
class ListenAt:
    """Put the source there and ask."""

    source_hz: float


@dataclass(frozen=True, slots=True)
class ZeroHeard:
    """Zero beat, and the silent zone's half-width where both edges were found."""

    zero_hz: Estimate
    half_zone_hz: Estimate | None


@dataclass(frozen=True, slots=True)
class NotHeard:
    """Zero beat was not found; the sentence says why."""

    reason: str


EarDecision = ListenAt | ZeroHeard | NotHeard


def next_question(goal: EarGoal, heard: Sequence[Heard]) -> EarDecision:
    """Decide after what was heard so far."""
    return _Search(goal, heard).decide()


class _Search:
    """What the answers say: `below` and `above`, the nearest notes on either side, and `silent`, the zone so far."""

    def __init__(self, goal: EarGoal, heard: Sequence[Heard]) -> None:
        self.goal, self.asked = goal, len(heard)
        by = {note: [each.source_hz for each in heard if each.note is note] for note in Note}
        self.below = max(by[Note.FELL], default=None)
        self.above = min(by[Note.ROSE], default=None)
        self.silent = (min(by[Note.SILENT]), max(by[Note.SILENT])) if by[Note.SILENT] else None

    def decide(self) -> EarDecision:
        if self._contradict():
            return NotHeard(
                "The answers contradict each other: see that the note is loud and steady, and listen again."
            )
        if self.asked >= MOST_QUESTIONS:
            return NotHeard(
                f"After {MOST_QUESTIONS} answers zero beat is not known: see that the oscillators are steady."
            )
        return self._find_zone() if self.silent is None else self._split_zone(*self.silent)

    def _contradict(self) -> bool:
        marks = [self.below, *(self.silent or ()), self.above]
        known = [mark for mark in marks if mark is not None]
        return any(low > high for low, high in itertools.pairwise(known)) or (
            self.below is not None and self.below == self.above
        )

    def _find_zone(self) -> EarDecision:
        """Go from where it should be towards where the note falls, in growing steps, then halve."""
        if self.below is None and self.above is None:
            return ListenAt(self.goal.expected_hz)
        if self.below is not None and self.above is not None:
            gap_hz = self.above - self.below
            if gap_hz <= self.goal.fine_hz:
                return self._zero(self.below, self.above, None)
            return ListenAt(0.5 * (self.above + self.below))
        known = self.above if self.above is not None else self.below
        assert known is not None  # noqa: S101 - one of the two is
        way = -1.0 if self.above is not None else 1.0
        gone_hz = abs(known - self.goal.expected_hz)
        if gone_hz >= self.goal.reach_hz:
            return NotHeard(
                f"No silent zone was found within {say_hz(self.goal.reach_hz)} of {say_hz(self.goal.expected_hz)}: see "
                "that the beat oscillator is on and the note is loud, and measure again."
            )
        step_hz = max(gone_hz, self.goal.spread_hz, 2.0 * self._half_hz())
        return ListenAt(self.goal.expected_hz + way * min(gone_hz + step_hz, self.goal.reach_hz))

    def _half_hz(self) -> float:
        return USUAL_HALF_ZONE_HZ if self.goal.half_zone_hz is None else self.goal.half_zone_hz.value

    def _split_zone(self, low: float, high: float) -> EarDecision:
        if self.goal.half_zone_hz is not None:
            return self._by_known_width(low, high, self.goal.half_zone_hz)
        lower_hz = self._gap(low, -1)
        upper_hz = self._gap(high, 1)
        if max(lower_hz, upper_hz) <= self.goal.fine_hz:
            return self._edges(low, high)
        side = -1 if lower_hz >= upper_hz else 1
        return self._towards_edge(low if side < 0 else high, side)

    def _gap(self, silent_hz: float, side: int) -> float:
        note_hz = self.below if side < 0 else self.above
        return math.inf if note_hz is None else abs(note_hz - silent_hz)

    def _towards_edge(self, silent_hz: float, side: int) -> EarDecision:
        note_hz = self.below if side < 0 else self.above
        if note_hz is not None:
            return ListenAt(0.5 * (note_hz + silent_hz))
        low, high = self.silent or (silent_hz, silent_hz)
        step_hz = max(USUAL_HALF_ZONE_HZ, high - low)
        if step_hz > self.goal.reach_hz:
            return NotHeard(
                f"No note is heard {say_hz(self.goal.reach_hz)} from the silent zone: turn the volume up and measure "
                "again."
            )
        return ListenAt(silent_hz + side * step_hz)

    def _edges(self, low: float, high: float) -> ZeroHeard:
        """Take either edge for midway between the last note and the first silence."""
        below, above = self.below or low, self.above or high
        lower, upper = 0.5 * (below + low), 0.5 * (above + high)
        sigmas = [math.hypot(UNIFORM * gap, self.goal.edge_sigma_hz) for gap in (low - below, above - high)]
        sigma_hz = 0.5 * math.hypot(*sigmas)
        half = Estimate(0.5 * (upper - lower), sigma_hz)
        return ZeroHeard(Estimate(0.5 * (lower + upper), sigma_hz), half)

    def _by_known_width(self, low: float, high: float, half: Estimate) -> EarDecision:
        """Zero beat is within half a zone of every silence, and farther than that from every note."""
        least = max(high - half.value, -math.inf if self.below is None else self.below + half.value)
        most = min(low + half.value, math.inf if self.above is None else self.above - half.value)
        if most - least <= self.goal.fine_hz:
            return self._zero(least, most, half)
        return ListenAt(0.5 * (least + most) + half.value)

    def _zero(self, least: float, most: float, half: Estimate | None) -> ZeroHeard:
        learnt = 0.0 if half is None else half.sigma
        sigma_hz = math.hypot(UNIFORM * max(most - least, 0.0), self.goal.edge_sigma_hz, learnt)
        return ZeroHeard(Estimate(0.5 * (least + most), sigma_hz), half)
