"""Bring one adjuster to its peak, or find that it cannot be: by step and fit, or live with an eye on the level."""

import math
from collections.abc import Callable, Generator
from dataclasses import dataclass
from typing import Any

from sequences.alignment.outcome import Stuck, Task, Turned, Turning
from sequences.engine.asks import DONE, choose, say_turn
from sequences.engine.events import Notice
from sequences.engine.requests import Request
from sequences.engine.steps import tell
from sequences.errors import SequenceError
from sequences.numerics.adjusters.coach_error import ErrorGoal
from sequences.numerics.adjusters.coach_peak import PeakCourse, PeakGoal
from sequences.numerics.adjusters.nudging import NoPeak, NudgeGoal, OnPeak, TurnedTo, TurnTo, next_nudge
from sequences.numerics.figures import Doubt, DoubtName, Estimate
from sequences.numerics.wording import say_db
from sequences.plan.content import StepAdjuster
from sequences.procedures.adjusting.live_adjusting import LiveEnd, PeakedLive, bring_to_peak, put_back, show_step
from sequences.procedures.adjusting.live_gauges import FollowedLevels, WatchedLevel
from sequences.procedures.adjusting.turning import Hand
from sequences.procedures.sweeps.held_output import HeldOutput

NEAR_ENOUGH = 0.1
"""Of the step's limit: a level so little below the best is left."""

GOOD_ENOUGH = 0.5
"""Of the step's limit: what will do for a hand that cannot come nearer."""

WORSE = 0.5
"""Of the step's limit: an adjuster that was turned without success and left so much worse is to be put back."""

UNSEEN = 1.0
"""Of the good zone: by so much, one sigma, the peak may lie above the best rest that a hand came by."""

LEAST_NOISE_DB = 0.08
"""What fingers and a slug's unevenness make of a level, though the meter be steadier."""

WITHOUT_EFFECT_TURNS = 1.0
"""By so much turned without any change of the level, it is time to ask what was turned: a slug far off its peak still
changes the level, and one that is broken, or of another circuit, is not to be swung any farther."""

WITHOUT_EFFECT_SIGMAS = 3.0
FEWEST_BEFORE_ASKING = 3
TURNED_IT, TURNED_ANOTHER = "I turned it", "I turned another"

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
    """Where a level is watched live, and what the step allows to be left to gain."""

    held: HeldOutput
    frequency_hz: float
    limit_db: float

    @property
    def within_db(self) -> float:
        """Give how far below the best is as good as the best."""
        return NEAR_ENOUGH * self.limit_db

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
    return LiveLevel(held, frequency_hz, limit_db)


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
            return (yield from _peak_live(adjuster, watched, live, hand))
    peaked = yield from _Stepping(adjuster, read, hand).carry_out()
    if isinstance(peaked.result, Stuck):
        hand.found(adjuster.name, peaked.result)
    return peaked


def _peak_live(
    adjuster: StepAdjuster, watched: WatchedLevel, live: LiveLevel, hand: Hand
) -> Generator[Request, Any, Peaked]:
    goal = PeakGoal(adjuster.name, live.within_db, say_db, GOOD_ENOUGH * live.limit_db)
    why = "The level is to be brought through its peak, until it falls off, and back to it."
    became = yield from bring_to_peak(goal, watched, hand, why)
    course = became.last
    if course is None or course.first is None or (became.end is LiveEnd.CANNOT and not became.moved):
        return Peaked(Stuck.SEIZED)
    level = yield from live.held.read(live.frequency_hz, adjuster.name)
    worse_db = course.first - level.value
    if not course.passed and worse_db > WORSE * live.limit_db:
        found = ErrorGoal(adjuster.name, course.first, live.within_db, say_db)
        yield from put_back(found, watched, hand, say_db(worse_db))
        level = yield from live.held.read(live.frequency_hz, adjuster.name)
    return Peaked(_became(became, course, level, course.first, live))


def _became(
    became: PeakedLive, course: PeakCourse, level: Estimate, first_db: float, live: LiveLevel
) -> PeakedByMeter | NotPassed | Stuck:
    """Say what a live turn came to, from the level measured anew."""
    sigma_db = max(course.advice.sigma or 0.0, course.pauses.noise, level.sigma)
    gain = Estimate(level.value - first_db, math.hypot(sigma_db, level.sigma))
    if course.passed:
        unseen_db = math.hypot(UNSEEN * live.within_db, LEAST_NOISE_DB)
        left = Estimate(max(course.best - level.value, 0.0), math.hypot(sigma_db, unseen_db))
        return PeakedByMeter(gain, left, f"It was turned by the meter to {_below(left)}, {_gained(gain)}.")
    if became.end is LiveEnd.CANNOT and gain.value > -WORSE * live.limit_db:
        return Stuck.END_OF_TRAVEL
    text = "It was left before the level had fallen off on both sides of a peak: turn it again."
    if gain.value < -WORSE * live.limit_db:
        text = f"It stands {say_db(-gain.value)} worse than it was found: put it back, or turn it again."
    return NotPassed(gain, text)


def _below(left: Estimate) -> str:
    return f"{say_db(left.value)} below the best"


def _gained(gain: Estimate) -> str:
    return f"{say_db(abs(gain.value))} {'up on' if gain.value >= 0.0 else 'below'} the start"


class _Stepping:
    """One adjuster's readings since the start, or since it met the end of its travel."""

    def __init__(self, adjuster: StepAdjuster, read: ReadLevel, hand: Hand) -> None:
        self.adjuster, self.read, self.hand = adjuster, read, hand
        self.readings: list[TurnedTo] = []
        self.noise_db = LEAST_NOISE_DB
        self.blocked: set[int] = set()
        self.moved = False
        self.asked = False

    def carry_out(self) -> Generator[Request, Any, Peaked]:
        yield from self._take(0.0)
        while True:
            if self._shows_nothing():
                dead = yield from self._ask_what_was_turned()
                if dead is not None:
                    return Peaked(dead)
            decision = self._decide()
            if isinstance(decision, TurnTo):
                end = yield from self._turn(decision)
                if end is not None:
                    return Peaked(end)
            else:
                if isinstance(decision, NoPeak):
                    yield from self._put_back()
                return Peaked(decision)

    def _shows_nothing(self) -> bool:
        """Tell whether it was turned far enough to ask, and nothing changed."""
        if self.asked or len(self.readings) < FEWEST_BEFORE_ASKING:
            return False
        levels = [one.level_db for one in self.readings]
        still = max(levels) - min(levels) <= WITHOUT_EFFECT_SIGMAS * self.noise_db
        return still and self._turned_over() >= WITHOUT_EFFECT_TURNS

    def _turned_over(self) -> float:
        """Give the turns between the positions farthest apart."""
        turns = [one.at_turns for one in self.readings]
        return max(turns) - min(turns)

    def _ask_what_was_turned(self) -> Generator[Request, Any, NoPeak | None]:
        """Have the wrong one turned back and begin anew; put one back that does nothing, and give it up."""
        self.asked = True
        name, by_turns = self.adjuster.name, self.readings[-1].at_turns
        text = f"The level has not changed while {name} was turned. Is it {name} that you turned?"
        answer = yield from choose(name, text, (TURNED_IT, TURNED_ANOTHER))
        if answer == TURNED_ANOTHER:
            self.hand.add(Turned(name, -by_turns))  # it was never made on this one
            back = f"Turn that one back {say_turn(-by_turns)}. Then take hold of {name}."
            yield from choose(name, back, (DONE,))
            self.readings = []
            yield from self._take(0.0)
            return None
        over = self._turned_over()
        yield from self._put_back()
        said = (
            f"{name} changes nothing over {over:.2g} turns: its core may be broken or missing, it may be of "
            "another circuit, or the signal may come by another way."
        )
        return NoPeak(Doubt(DoubtName.NO_RISE, said))

    def _put_back(self) -> Generator[Request, Any, None]:
        """Without a peak to go to an adjuster is left where it was best; where that is nowhere, as it was found."""
        found, last = self.readings[0], self.readings[-1]
        best = max(self.readings, key=lambda each: each.level_db)
        if best.level_db - found.level_db <= self.noise_db:
            best = found
        by_turns = best.at_turns - last.at_turns
        if by_turns:
            where = "as it was found" if best is found else "where it was best"
            yield from self.hand.turn(self.adjuster.name, by_turns, f"No peak was found: put it back {where}.")

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
