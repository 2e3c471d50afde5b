"""Bring one adjuster to its peak by step and fit, or find that it cannot be."""

from collections.abc import Callable, Generator
from dataclasses import dataclass
from typing import Any

from sequences.engine.requests import Request
from sequences.numerics.figures import Estimate
from sequences.numerics.nudging import NoPeak, NudgeGoal, OnPeak, TurnedTo, TurnTo, next_nudge
from sequences.plan.content import StepAdjuster
from sequences.procedures.turning import Hand, Stuck

LEAST_NOISE_DB = 0.08
"""What fingers and a slug's unevenness make of a level, though the meter be steadier."""

ReadLevel = Callable[[str], Generator[Request, Any, Estimate]]
"""Read the level, for a purpose."""


@dataclass(frozen=True, slots=True)
class Peaked:
    """What became of one adjuster: on its peak, without one, or stuck."""

    result: OnPeak | NoPeak | Stuck


def peak_adjuster(adjuster: StepAdjuster, read: ReadLevel, hand: Hand) -> Generator[Request, Any, Peaked]:
    """Step an adjuster through its peak and back to it.

    One that cannot be turned is tried the other way; at the end of its travel it is left there if it reads best there.
    """
    return (yield from _Stepping(adjuster, read, hand).carry_out())


class _Stepping:
    """One adjuster's readings since the start, or since it met the end of its travel."""

    def __init__(self, adjuster: StepAdjuster, read: ReadLevel, hand: Hand) -> None:
        self.adjuster, self.read, self.hand = adjuster, read, hand
        self.readings: list[TurnedTo] = []
        self.noise_db = LEAST_NOISE_DB
        self.blocked: set[int] = set()
        self.moved = False

    def carry_out(self) -> Generator[Request, Any, Peaked]:
        yield from self._take(0.0)
        while True:
            decision = self._decide()
            if isinstance(decision, TurnTo):
                end = yield from self._turn(decision)
                if end is not None:
                    return Peaked(end)
            else:
                return Peaked(decision)

    def _take(self, at_turns: float) -> Generator[Request, Any, None]:
        level = yield from self.read(self.adjuster.name)
        self.noise_db = max(self.noise_db, level.sigma)
        self.readings.append(TurnedTo(at_turns, level.value))

    def _decide(self) -> TurnTo | OnPeak | NoPeak:
        decision = next_nudge(NudgeGoal(self.noise_db, self.adjuster.nudge_turns), self.readings)
        first = len(self.readings) == 1
        if isinstance(decision, TurnTo) and first and 1 in self.blocked:
            return TurnTo(-decision.at_turns, -decision.by_turns, "The other way.")
        return decision

    def _turn(self, decision: TurnTo) -> Generator[Request, Any, Stuck | None]:
        way = 1 if decision.by_turns > 0 else -1
        if way in self.blocked and way * decision.at_turns > 0:
            return (yield from self._back_to_end())
        could = yield from self.hand.turn(self.adjuster.name, decision.by_turns, decision.text)
        if could:
            self.moved = True
            yield from self._take(decision.at_turns)
            return None
        return (yield from self._blocked(way, decision.at_turns))

    def _blocked(self, way: int, wanted_turns: float) -> Generator[Request, Any, Stuck | None]:
        """Find out what stops it: both ways fast is seized; the best reading at the end is the end of the travel."""
        self.blocked.add(way)
        if len(self.blocked) > 1 and not self.moved:
            return Stuck.SEIZED
        if self.moved:
            yield from self._take(wanted_turns)
            if self.readings[-1].level_db >= max(each.level_db for each in self.readings):
                return Stuck.END_OF_TRAVEL
        # Nobody knows how far it moved before it stopped: positions count anew from here.
        self.readings = []
        yield from self._take(0.0)
        return None

    def _back_to_end(self) -> Generator[Request, Any, Stuck]:
        """The level rises towards an end of the travel: go back there."""
        at = self.readings[-1].at_turns
        if at:
            yield from self.hand.turn(self.adjuster.name, -at, "It reads best at the end of its travel.")
        return Stuck.END_OF_TRAVEL
