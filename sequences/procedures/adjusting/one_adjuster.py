"""Bring one adjuster to its peak, or find that it cannot be: by step and fit, or live with an eye on the level."""

from collections.abc import Callable, Generator
from dataclasses import dataclass
from typing import Any

import numpy as np

from sequences.alignment.outcome import Stuck, Task, Turning
from sequences.engine.events import Notice
from sequences.engine.requests import Request
from sequences.engine.steps import tell
from sequences.errors import SequenceError
from sequences.numerics.adjusters.coach_peak import PeakGoal
from sequences.numerics.adjusters.nudging import NoPeak, NudgeGoal, OnPeak, TurnedTo, TurnTo, next_nudge
from sequences.numerics.figures import Estimate
from sequences.numerics.wording import say_db
from sequences.plan.content import StepAdjuster
from sequences.procedures.adjusting.live_adjusting import LiveEnd, bring_to_peak, show_step
from sequences.procedures.adjusting.live_gauges import FollowedLevels, WatchedLevel
from sequences.procedures.adjusting.turning import Hand
from sequences.procedures.sweeps.held_output import HeldOutput

NEAR_ENOUGH = 0.2
"""Of the step's limit: a level so little below the best is left."""

LATEST = 3
"""Readings that tell where an adjuster was left."""

LEAST_NOISE_DB = 0.08
"""What fingers and a slug's unevenness make of a level, though the meter be steadier."""

ReadLevel = Callable[[str], Generator[Request, Any, Estimate]]
"""Read the level, for a purpose."""


@dataclass(frozen=True, slots=True)
class PeakedByMeter:
    """The adjuster was turned live through its peak and back to it: what was gained, what is left below the best."""

    gain_db: Estimate
    left_db: Estimate
    text: str


@dataclass(frozen=True, slots=True)
class NotPassed:
    """The adjuster was turned live and left before its peak was seen from both sides, so nobody knows what is left."""

    gain_db: Estimate
    text: str


@dataclass(frozen=True, slots=True)
class Peaked:
    """What became of one adjuster: on its peak, left short of it, without one, or stuck."""

    result: OnPeak | PeakedByMeter | NotPassed | NoPeak | Stuck


@dataclass(frozen=True, slots=True)
class LiveLevel:
    """Where a level is watched live, and how near to the best is as good as the best."""

    held: HeldOutput
    frequency_hz: float
    within_db: float

    def open(self) -> Generator[Request, Any, WatchedLevel]:
        """Get ready to watch it.

        Raises:
            SequenceError: the meter does not follow.
        """
        levels = FollowedLevels(self.held)
        yield from levels.begin((self.frequency_hz,))
        return WatchedLevel(levels, self.frequency_hz, self.held.settle_s)


def live_level(task: Task, held: HeldOutput, frequency_hz: float, limit_db: float) -> LiveLevel | None:
    """Give the level to be watched where the task is done live; None where turns are counted."""
    if task.turning is not Turning.LIVE:
        return None
    return LiveLevel(held, frequency_hz, NEAR_ENOUGH * limit_db)


def peak_adjuster(
    adjuster: StepAdjuster, read: ReadLevel, hand: Hand, live: LiveLevel | None = None
) -> Generator[Request, Any, Peaked]:
    """Bring an adjuster through its peak and back to it: live where `live` says how, else by counted turns.

    Counted, one that cannot be turned is tried the other way; at the end of its travel it is left there if it reads
    best there.
    """
    if live is not None:
        try:
            watched = yield from live.open()
        except SequenceError as error:
            yield from tell(Notice(f"{error} So turns are counted instead."))
        else:
            return (yield from _peak_live(adjuster, watched, live.within_db, hand))
    peaked = yield from _Stepping(adjuster, read, hand).carry_out()
    if isinstance(peaked.result, Stuck):
        hand.found(adjuster.name, peaked.result)
    return peaked


def _peak_live(
    adjuster: StepAdjuster, watched: WatchedLevel, within_db: float, hand: Hand
) -> Generator[Request, Any, Peaked]:
    goal = PeakGoal(adjuster.name, within_db, say_db)
    why = "The level is to be brought through its peak, until it falls off, and back to it."
    became = yield from bring_to_peak(goal, watched, hand, why)
    course = became.last
    if course is None or (became.end is LiveEnd.CANNOT and not became.moved):
        return Peaked(Stuck.SEIZED)
    sigma_db = course.advice.sigma or 0.0
    stands_db = float(np.mean(course.values[-LATEST:]))
    gain = Estimate(stands_db - (course.first or stands_db), 2**0.5 * sigma_db)
    if course.passed:
        left = Estimate(max(course.best - stands_db, 0.0), max(sigma_db, LEAST_NOISE_DB))
        text = (
            f"It was turned by the meter to {say_db(left.value)} below the best, {say_db(gain.value)} up on the start."
        )
        return Peaked(PeakedByMeter(gain, left, text))
    if became.end is LiveEnd.CANNOT:
        return Peaked(Stuck.END_OF_TRAVEL)
    return Peaked(
        NotPassed(gain, "It was left before the level had fallen off on both sides of a peak: turn it again.")
    )


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
        levels = [each.level_db for each in self.readings]
        yield from show_step(self.adjuster.name, levels, self.noise_db, decision.by_turns, decision.text)
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
