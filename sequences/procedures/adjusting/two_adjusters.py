"""Bring the two slugs of a can to their common peak, in rounds; where one cannot be turned, the other alone."""

from collections.abc import Generator
from dataclasses import dataclass
from typing import Any

from sequences.alignment.outcome import Stuck
from sequences.engine.requests import Request
from sequences.numerics.adjusters.nudging import NoPeak, TurnedTo, suited_nudge
from sequences.numerics.adjusters.two_slugs import NotSettled, Settled, Slug, SlugGoal, SlugReading, Turn, next_turn
from sequences.numerics.figures import Doubt, DoubtName, Estimate
from sequences.plan.content import StepAdjuster
from sequences.procedures.adjusting.live_adjusting import show_step
from sequences.procedures.adjusting.one_adjuster import LEAST_NOISE_DB, Peaked, ReadLevel, peak_adjuster
from sequences.procedures.adjusting.turning import Hand

MOST_TURNS = 7.0
BUDGET = 45
RESTARTS = 2


@dataclass(frozen=True, slots=True)
class PairSet:
    """What became of the two: `settled` where both stand right, else why not; `stuck` names one that cannot be turned.

    `half_width_turns`: turns of each slug to one half-width, where the readings told.
    """

    settled: Settled | None
    doubt: Doubt | None
    stuck: tuple[str, Stuck] | None
    half_width_turns: tuple[float, float] | None


def set_pair(slugs: tuple[StepAdjuster, StepAdjuster], read: ReadLevel, hand: Hand) -> Generator[Request, Any, PairSet]:
    """Turn two slugs that pull on each other until neither is off by more than its tolerance.

    An over-coupled pair is set to the middle between its humps: peaked by meter it would end on one of them.
    """
    return (yield from _Pair(slugs, read, hand).carry_out())


class _Pair:
    """The readings since the start, or since a slug met something; positions in turns."""

    def __init__(self, slugs: tuple[StepAdjuster, StepAdjuster], read: ReadLevel, hand: Hand) -> None:
        self.slugs, self.read, self.hand = slugs, read, hand
        self.noise_db = LEAST_NOISE_DB
        self.readings: list[SlugReading] = []
        self.restarts = 0

    def carry_out(self) -> Generator[Request, Any, PairSet]:
        yield from self._take(0.0, 0.0)
        while True:
            nudge_turns = self._nudge_turns()
            decision = self._decide(nudge_turns)
            if isinstance(decision, Settled):
                return PairSet(decision, None, None, _scaled(decision.half_widths, nudge_turns))
            if isinstance(decision, Turn):
                ended = yield from self._turn(decision, nudge_turns)
            else:
                ended = yield from self._not_settled(decision)
            if ended is not None:
                return ended

    def _take(self, first: float, second: float) -> Generator[Request, Any, None]:
        level = yield from self.read(f"{self.slugs[0].name}, {self.slugs[1].name}")
        self.noise_db = max(self.noise_db, level.sigma)
        self.readings.append(SlugReading(first, second, level.value))

    def _nudge_turns(self) -> float:
        """Give the nudge: as long as the first slug's own readings ask for."""
        own = [each for each in self.readings if each.second == self.readings[0].second]
        walked = [TurnedTo(each.first, each.level_db) for each in own]
        return suited_nudge(walked, max(slug.nudge_turns for slug in self.slugs))

    def _decide(self, nudge_turns: float) -> Turn | Settled | NotSettled:
        senses = {slug.clockwise for slug in self.slugs}
        same = None if "unknown" in senses else len(senses) == 1
        most = MOST_TURNS / nudge_turns
        goal = SlugGoal(self.noise_db, most_nudges=most, budget=BUDGET, same_sense=same, balance=True)
        scaled = [
            SlugReading(each.first / nudge_turns, each.second / nudge_turns, each.level_db) for each in self.readings
        ]
        return next_turn(goal, scaled)

    def _turn(self, decision: Turn, nudge_turns: float) -> Generator[Request, Any, PairSet | None]:
        now, to = self.readings[-1], decision.to_nudges * nudge_turns
        at = (to, now.second) if decision.slug is Slug.FIRST else (now.first, to)
        which = 0 if decision.slug is Slug.FIRST else 1
        why = _reason(decision.text.replace(f"the {decision.slug} slug", self.slugs[which].name))
        by_turns = decision.by_nudges * nudge_turns
        levels = [each.level_db for each in self.readings]
        yield from show_step(self.slugs[which].name, levels, self.noise_db, by_turns, why)
        if (yield from self.hand.turn(self.slugs[which].name, by_turns, why)):
            yield from self._take(*at)
            return None
        return (yield from self._stopped(which))

    def _stopped(self, which: int) -> Generator[Request, Any, PairSet | None]:
        """A slug could not be turned: by itself it shows whether it can be used at all; then begin anew."""
        alone = yield from peak_adjuster(self.slugs[which], self.read, self.hand)
        if not isinstance(alone.result, Stuck):
            return (yield from self._restart(_no_peak(alone)))
        yield from peak_adjuster(self.slugs[1 - which], self.read, self.hand)
        if alone.result is Stuck.END_OF_TRAVEL:
            # The other one, far off, may have driven it there: with that on its own peak it may have one as well.
            alone = yield from peak_adjuster(self.slugs[which], self.read, self.hand)
        if isinstance(alone.result, Stuck):
            return PairSet(None, None, (self.slugs[which].name, alone.result), None)
        return (yield from self._restart(_no_peak(alone)))

    def _not_settled(self, decision: NotSettled) -> Generator[Request, Any, PairSet | None]:
        """Begin anew from where the level was best, where a slug may have slipped; otherwise there is no peak."""
        if decision.doubt.name is not DoubtName.POOR_FIT:
            return PairSet(None, _named(decision.doubt, self.slugs), None, None)
        best = max(self.readings, key=lambda reading: reading.level_db)
        now = self.readings[-1]
        for slug, by in zip(self.slugs, (best.first - now.first, best.second - now.second), strict=True):
            if by:
                yield from self.hand.turn(slug.name, by, "Back to where the level was best.")
        return (yield from self._restart(decision.doubt))

    def _restart(self, doubt: Doubt) -> Generator[Request, Any, PairSet | None]:
        if self.restarts >= RESTARTS:
            return PairSet(None, doubt, None, None)
        self.restarts += 1
        self.readings = []
        yield from self._take(0.0, 0.0)
        return None


def _named(doubt: Doubt, slugs: tuple[StepAdjuster, StepAdjuster]) -> Doubt:
    """Call the slugs by their names."""
    text = doubt.text
    for slug, adjuster in zip(Slug, slugs, strict=True):
        text = text.replace(f"the {slug} slug", adjuster.name).replace(f"The {slug} slug", adjuster.name)
    return Doubt(doubt.name, text)


def _reason(text: str) -> str:
    """Take from the decision's sentence why the turn is made; how far and which way the question itself says."""
    _, comma, why = text.partition(", ")
    return f"{why[0].upper()}{why[1:]}" if comma else text


def _no_peak(alone: Peaked) -> Doubt:
    if isinstance(alone.result, NoPeak):
        return alone.result.doubt
    text = "A slug met something on its way that stops it, so that its positions could not be kept; start again."
    return Doubt(DoubtName.UNCERTAIN, text)


def _scaled(half_widths: tuple[float, float], nudge_turns: float) -> tuple[float, float]:
    return half_widths[0] * nudge_turns, half_widths[1] * nudge_turns


def level_left(pair: PairSet) -> Estimate | None:
    """Give what is left to be gained, where both slugs were set."""
    return None if pair.settled is None else Estimate(abs(pair.settled.left_db.value), pair.settled.left_db.sigma)
