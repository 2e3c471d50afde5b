"""Live adjusting: the person turns an adjuster and watches, the tool reads as fast as it can and says what to do.

The person alone ends it: by the signal that it is done, or that the adjuster cannot be turned; a stop always works.
"""

import math
from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any, Protocol, TypeVar

from sequences.alignment.outcome import Stuck, Turned
from sequences.engine.asks import CANNOT
from sequences.engine.events import GaugeKind, Guidance, TurnWay
from sequences.engine.questions import TurnLive
from sequences.engine.requests import Request, asking
from sequences.engine.steps import ask, look_at_clock, tell
from sequences.errors import SequenceError
from sequences.numerics.adjusters.coach import Advice, LiveReading, Trend, Word, scale_for
from sequences.numerics.adjusters.coach_error import ErrorCourse, ErrorGoal, coach_error
from sequences.numerics.adjusters.coach_peak import PeakCourse, PeakGoal, coach_peak
from sequences.procedures.adjusting.turning import Hand

Course = TypeVar("Course", ErrorCourse, PeakCourse)

READY = "ready"
SIGNAL_DONE, SIGNAL_CANNOT, SIGNAL_STEP = "done", "cannot", "step"

LEAST_READINGS = 2
"""Readings before a signal counts: one that was given before the adjuster was taken hold of does not."""


CLOCKWISE = {"raises": 1, "lowers": -1, "unknown": 0}
"""What the receiver file says of a turn clockwise, as a sign."""

LEAST_STEP_SCALE_DB = 1.0
"""What the needle's end stands for at least while levels are stepped."""

CLEAR_SIGMAS = 4.0
"""Of the noise: levels that differ by less are alike."""

WORSE_ZONES = 2.0
"""Of the good zone: an adjuster that cannot be brought home and is left so much worse is to be put back."""

MOVED_SIGMAS = 6.0
"""Of the noise: readings farther apart than this show that something was turned."""


class LiveEnd(StrEnum):
    """How the person ended it."""

    DONE = "done"
    CANNOT = "cannot"
    REFUSED = "not begun"


class LiveGauge(Protocol):
    """Something that can be read again and again while an adjuster is turned."""

    @property
    def kind(self) -> GaugeKind:
        """What is read."""

    @property
    def unit(self) -> str:
        """The unit of its values."""

    def read(self) -> Generator[Request, Any, LiveReading]:
        """Take the next reading, as quickly as it can be had."""


@dataclass(frozen=True, slots=True)
class Brought:
    """Where live adjusting to a known target ended. `moved`: whether the reading ever did; `last` None: never read."""

    end: LiveEnd
    moved: bool
    last: ErrorCourse | None


@dataclass(frozen=True, slots=True)
class PeakedLive:
    """Where live adjusting to a maximum ended. `moved`: whether the reading ever did; `last` None: never read."""

    end: LiveEnd
    moved: bool
    last: PeakCourse | None


def bring_to_target(goal: ErrorGoal, gauge: LiveGauge, hand: Hand, why: str) -> Generator[Request, Any, Brought]:
    """Have an adjuster turned, live, until its error is gone.

    Args:
        goal: What is turned and where it should come to.
        gauge: Reads the value.
        hand: Keeps the account of what was turned.
        why: A sentence on why it is to be turned.

    Raises:
        SequenceError: there never was a reading.
    """
    if not (yield from _take_hold(goal.adjuster, gauge, why)):
        hand.could_not(goal.adjuster)
        return Brought(LiveEnd.REFUSED, moved=False, last=None)
    watch = _Watch(goal.adjuster, gauge, hand, goal.within)
    end, course = yield from _follow(watch, lambda before, reading: coach_error(goal, before, reading))
    _refuse_unread(goal.adjuster, read=course.read)
    if end is LiveEnd.CANNOT:
        hand.found(goal.adjuster, _how_stuck(watch))
    return Brought(end, watch.moved, course)


def bring_to_peak(goal: PeakGoal, gauge: LiveGauge, hand: Hand, why: str) -> Generator[Request, Any, PeakedLive]:
    """Have an adjuster turned, live, through its maximum and back to it.

    Raises:
        SequenceError: there never was a reading.
    """
    if not (yield from _take_hold(goal.adjuster, gauge, why)):
        hand.could_not(goal.adjuster)
        return PeakedLive(LiveEnd.REFUSED, moved=False, last=None)
    watch = _Watch(goal.adjuster, gauge, hand, goal.within)
    end, course = yield from _follow(watch, lambda before, reading: coach_peak(goal, before, reading))
    _refuse_unread(goal.adjuster, read=course.first is not None)
    if end is LiveEnd.CANNOT and not course.passed:
        hand.found(goal.adjuster, _how_stuck(watch))
    return PeakedLive(end, watch.moved, course)


def put_back(goal: ErrorGoal, gauge: LiveGauge, hand: Hand, worse: str) -> Generator[Request, Any, Brought]:
    """Have an adjuster that could not be brought home turned back, live, to where it was found.

    Args:
        goal: The reading as found, for a target.
        gauge: What it was turned by.
        hand: Keeps the account; how the adjuster is stuck stays noted.
        worse: What it stands worse by, in words.
    """
    stuck = hand.fast.get(goal.adjuster)
    why = f"It stands {worse} worse than it was found: turn it back, to where it was."
    brought = yield from bring_to_target(goal, gauge, hand, why)
    if stuck is not None:
        hand.found(goal.adjuster, stuck)
    return brought


def _refuse_unread(adjuster: str, *, read: bool) -> None:
    """Judge no adjuster, and suspect no part, where there was nothing to see."""
    if not read:
        raise SequenceError(
            f"There was no reading while {adjuster} was turned, so nobody knows where it stands. Turn it back to where "
            "it was, check the leads, the band, the controls and the source level, and repeat the step."
        )


def _how_stuck(watch: "_Watch") -> Stuck:
    return Stuck.END_OF_TRAVEL if watch.moved else Stuck.SEIZED


def _follow(
    watch: "_Watch", coach: Callable[[Course | None, LiveReading], Course]
) -> Generator[Request, Any, tuple[LiveEnd, Course]]:
    """Read and show until the person ends it."""
    course: Course | None = None
    while True:
        reading = yield from watch.read()
        course = coach(course, reading)
        end = yield from watch.show(course.advice)
        if end is not None:
            return end, course


def _take_hold(adjuster: str, gauge: LiveGauge, why: str) -> Generator[Request, Any, bool]:
    text = (
        f"Take hold of {adjuster}. {why} Then turn as you are told, slowly, and say done when it is done, or cannot "
        "where it sits fast or comes to its end."
    )
    question = TurnLive(adjuster, gauge.kind.value, gauge.unit)
    return (yield from ask(asking(question, text, (READY, CANNOT)))) == READY


class _Watch:
    """Reads, shows, and hears the person."""

    def __init__(self, adjuster: str, gauge: LiveGauge, hand: Hand, within: float) -> None:
        self.adjuster, self.gauge, self.hand, self.within = adjuster, gauge, hand, within
        self.readings = 0
        self.nudges = 0
        self.lowest, self.highest, self.noise = math.inf, -math.inf, 0.0

    @property
    def moved(self) -> bool:
        """Whether what was read ever moved by more than its noise."""
        return self.highest - self.lowest > MOVED_SIGMAS * self.noise

    def read(self) -> Generator[Request, Any, LiveReading]:
        """Take a reading, with the nudges signalled since the last."""
        reading = yield from self.gauge.read()
        now_s = yield from look_at_clock()
        self.readings += 1
        nudges, self.nudges = self.nudges, 0
        return LiveReading(reading.value, reading.sigma, reading.side, nudges, now_s)

    def show(self, advice: Advice) -> Generator[Request, Any, LiveEnd | None]:
        """Show the person what to do; give how it ended, or None where it goes on."""
        signal = yield from tell(guidance(self.adjuster, self.gauge, self.within, advice))
        if advice.value is not None:
            self.lowest, self.highest = min(self.lowest, advice.value), max(self.highest, advice.value)
            self.noise = max(self.noise, advice.sigma or 0.0)
        if signal == SIGNAL_STEP:
            self.nudges += 1
        if signal not in {SIGNAL_DONE, SIGNAL_CANNOT} or self.readings < LEAST_READINGS:
            return None
        self.hand.add(Turned(self.adjuster, None))
        return LiveEnd.DONE if signal == SIGNAL_DONE else LiveEnd.CANNOT


def show_step(
    adjuster: str, levels_db: Sequence[float], sigma_db: float, by_turns: float, why: str
) -> Generator[Request, Any, None]:
    """Show where step and fit stands before a counted turn, on the same display; the question itself follows.

    Args:
        adjuster: What is turned next.
        levels_db: The levels so far, in the order taken.
        sigma_db: The noise of one.
        by_turns: How far it is to be turned, clockwise where positive.
        why: The sentence that the question gives for it.
    """
    now, best = levels_db[-1], max(levels_db)
    scale = scale_for(max(best - now, best - min(levels_db), LEAST_STEP_SCALE_DB))
    yield from tell(
        Guidance(
            adjuster=adjuster,
            gauge=GaugeKind.STEP_AND_FIT,
            value=now,
            sigma=sigma_db,
            unit="dB",
            target=None,
            within=None,
            error=None,
            full_scale=scale,
            best=best,
            below_best=best - now,
            trend=_trend(levels_db, sigma_db),
            word=Word.TURN,
            way=TurnWay.CLOCKWISE if by_turns > 0.0 else TurnWay.ANTICLOCKWISE,
            turns_left=abs(by_turns),
            sentence=why,
        )
    )


def _trend(levels_db: Sequence[float], sigma_db: float) -> Trend:
    if len(levels_db) < 2:  # noqa: PLR2004 - one alone has no trend
        return Trend.UNKNOWN
    change_db = levels_db[-1] - levels_db[-2]
    if abs(change_db) <= CLEAR_SIGMAS * sigma_db:
        return Trend.STEADY
    return Trend.NEARER if change_db > 0.0 else Trend.FARTHER


def guidance(adjuster: str, gauge: LiveGauge, within: float, advice: Advice) -> Guidance:
    """Put advice into the event that a page draws and sounds, a terminal prints and a robot obeys."""
    ways = {1: TurnWay.CLOCKWISE, -1: TurnWay.ANTICLOCKWISE}
    return Guidance(
        adjuster=adjuster,
        gauge=gauge.kind,
        value=advice.value,
        sigma=advice.sigma,
        unit=gauge.unit,
        target=advice.target,
        within=within,
        error=advice.error,
        full_scale=advice.full_scale,
        best=advice.best,
        below_best=advice.below_best,
        closest=advice.closest,
        of_last_move=advice.of_last_move,
        trend=advice.trend,
        word=advice.word,
        way=ways.get(advice.turn),
        turns_left=advice.turns_left,
        sentence=advice.sentence,
    )
