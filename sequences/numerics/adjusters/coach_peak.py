"""Guide an adjuster to a maximum: a level or an activity, with the best so far held.

Where the maximum is shows only once it has been passed: the reading rises, falls off on the far side, and the adjuster
is turned back until the best is reached again. Until then there is no target and so no error; which way to turn is not
known either, for nobody sees the hand. Only that it was the wrong way shows, in that the reading falls.
"""

import dataclasses
import math
from collections.abc import Callable
from dataclasses import dataclass, field

from sequences.numerics.adjusters.coach import (
    CLEAR_SIGMAS,
    LOOK_BACK,
    STUCK_AFTER,
    WINDOW,
    Advice,
    LiveReading,
    NeedleScale,
    Noise,
    Trend,
    Word,
    no_reading_yet,
    smooth,
    trend_of,
)

NOISE_IN_ZONE = 4.0
"""Times the noise that may lie between the best so far, itself picked from noise, and a reading as good."""

FIRST_READINGS = 3
"""Before so many a pop may be among them as the middle one, so that no best is held yet."""

NEEDLE_IN_ZONES = 4.0
ROSE_ZONES = 1.5
"""Of the good zone: a rise this high to the best shows that it was come to from below."""

SETTLED = 4
SETTLED_ZONES = 1.5
CLOSE_ZONES = 0.5
"""Of the good zone: a level on its way back is let rise until it is so near to the best."""


@dataclass(frozen=True, slots=True)
class PeakGoal:
    """What is turned to its maximum.

    Attributes:
        adjuster: Its name, for sentences.
        within: How far below the best is as good as the best, above zero, in the gauge's unit.
        say: Puts a difference of two readings in words, with its unit.
    """

    adjuster: str
    within: float
    say: Callable[[float], str]


@dataclass(frozen=True, slots=True)
class PeakCourse:
    """What is known after some readings; `advice` is what to show.

    `best`: the best so far. `first`: the first reading. `lowest`: the lowest. `fell_before`: whether it was seen
    clearly below the best before it was there; `fell_at`: the best when it was last seen clearly below it afterwards.
    `near`, `close`: whether it is as good as the best, and nearly the best itself.
    """

    advice: Advice
    recent: tuple[LiveReading, ...]
    values: tuple[float, ...]
    scale: NeedleScale
    noise: Noise = field(default_factory=Noise)
    best: float = -math.inf
    first: float | None = None
    fell_before: bool = False
    fell_at: float | None = None
    near: bool = False
    close: bool = False
    lowest: float = math.inf
    still: int = 0
    settled: int = 0

    @property
    def passed(self) -> bool:
        """Whether the peak was seen from both sides."""
        return self.fell_before and self.fell_at is not None


def coach_peak(goal: PeakGoal, before: PeakCourse | None, reading: LiveReading) -> PeakCourse:
    """Give what is known after one more reading.

    Args:
        goal: What is turned.
        before: What was known; None before the first reading.
        reading: The latest one. One without a value moves nothing that was known.

    Raises:
        ValueError: the goal's zone has no width, or the reading is not finite.
    """
    if not goal.within > 0.0:
        raise ValueError("The good zone below a peak needs a width above zero.")
    course = before or _nothing(goal)
    if reading.value is None:
        return _unread(course)
    if not math.isfinite(reading.value):
        raise ValueError("A live reading is not a number; give it without a value.")
    return _read(goal, course, reading, reading.value)


def _nothing(goal: PeakGoal) -> PeakCourse:
    scale = NeedleScale(0.0).after(0.0, NEEDLE_IN_ZONES * goal.within)
    return PeakCourse(no_reading_yet(scale.full_scale), (), (), scale)


def _unread(course: PeakCourse) -> PeakCourse:
    advice = dataclasses.replace(
        course.advice,
        value=None,
        sigma=None,
        error=None,
        below_best=None,
        trend=Trend.UNKNOWN,
        word=Word.WAIT,
        sentence="The meter gives no reading: wait.",
    )
    return dataclasses.replace(course, advice=advice, settled=0)


def _read(goal: PeakGoal, before: PeakCourse, reading: LiveReading, value: float) -> PeakCourse:
    recent = (*before.recent, reading)[-WINDOW:]
    values = (*before.values, value)[-WINDOW:]
    known = before.noise.after(recent)
    noise = known.sigma
    now = smooth(values, 3)
    zone = max(goal.within, NOISE_IN_ZONE * noise)
    best = _best(before, values)
    course = dataclasses.replace(
        before,
        recent=recent,
        noise=known,
        values=values,
        best=best,
        first=now if before.first is None else before.first,
    )
    course = _with_falls(course, before, now, zone)
    trend = trend_of([-each for each in _smoothed(values)], max(CLEAR_SIGMAS * noise, 1e-9 * goal.within))
    close = best - now <= CLOSE_ZONES * zone
    still = before.still + 1 if trend is Trend.STEADY else 0
    settled = before.settled + 1 if course.near and abs(value - best) <= SETTLED_ZONES * zone else 0
    floor = max(NEEDLE_IN_ZONES * goal.within, 2.0 * NOISE_IN_ZONE * noise)
    scale = before.scale.after(max(best - value, 0.0), floor)
    course = dataclasses.replace(course, still=still, close=close, settled=settled, scale=scale)
    word = _word(before, course, trend)
    return dataclasses.replace(course, advice=_advice(goal, course, trend, word, noise))


def _best(before: PeakCourse, values: tuple[float, ...]) -> float:
    """Give the best so far: what medians over three and over five readings both reach, so that no pop or two does."""
    sure = min(smooth(values, 3), smooth(values, 5))
    return sure if len(values) < FIRST_READINGS else max(before.best, sure)


def _with_falls(course: PeakCourse, before: PeakCourse, now: float, zone: float) -> PeakCourse:
    """Keep account of falls before and after a visit to the best; a clearly better best undoes what fell after."""
    lowest = min(before.lowest, now)
    near = course.best - now <= zone
    if near:
        # Here at the best: whatever was clearly below it until now lies on the side that it came from.
        came_from_below = before.fell_before or course.best - lowest > ROSE_ZONES * zone
        undone = before.fell_at is not None and course.best > before.fell_at + zone
        fell_at = None if undone else before.fell_at
        return dataclasses.replace(course, near=True, fell_before=came_from_below, fell_at=fell_at, lowest=lowest)
    fell_at = course.best if before.fell_before else before.fell_at
    return dataclasses.replace(course, near=False, fell_at=fell_at, lowest=lowest)


def _smoothed(values: tuple[float, ...]) -> list[float]:
    first = max(1, len(values) - LOOK_BACK)
    return [smooth(values[:end], 3) for end in range(first, len(values) + 1)]


def _word(before: PeakCourse, course: PeakCourse, trend: Trend) -> Word:
    was = before.advice.word
    if course.near:
        return _at_best(course, was, trend)
    if trend is Trend.NEARER:
        return Word.TURN
    if trend is Trend.FARTHER:
        fresh = was in {Word.TURN, Word.HOLD, Word.DONE, Word.WAIT}
        return Word.PAST_IT if fresh and course.fell_before else Word.TURN_BACK
    if was in {Word.TURN, Word.PAST_IT, Word.TURN_BACK}:
        return was
    return Word.TURN_BACK if course.passed else Word.TURN


def _at_best(course: PeakCourse, was: Word, trend: Trend) -> Word:
    """At the best so far: the peak, where it was seen from both sides; otherwise it may go on rising."""
    if course.still >= STUCK_AFTER and not course.fell_before:
        return Word.TURN_BACK  # it never moved this way
    if not course.passed or not (course.close or was in {Word.HOLD, Word.DONE}):
        return Word.TURN
    if was is Word.DONE or (course.settled >= SETTLED and trend is not Trend.FARTHER):
        return Word.DONE
    return Word.HOLD


def _advice(goal: PeakGoal, course: PeakCourse, trend: Trend, word: Word, noise: float) -> Advice:
    value = course.values[-1]
    below = max(course.best - value, 0.0)
    return Advice(
        value=value,
        sigma=noise,
        target=course.best if course.passed else None,
        error=-below if course.passed else None,
        full_scale=course.scale.full_scale,
        best=course.best,
        below_best=below,
        trend=trend,
        word=word,
        turn=0,
        turns_left=None,
        sentence=_sentence(goal, course, trend, word, below),
    )


def _sentence(goal: PeakGoal, course: PeakCourse, trend: Trend, word: Word, below: float) -> str:
    off = f"{goal.say(below)} below the best"
    rising = "rising" if trend is Trend.NEARER else "turn on, until it falls off clearly"
    said = {
        Word.TURN: f"{off}: go on." if course.passed or not course.near else f"at the best so far, {rising}.",
        Word.PAST_IT: f"{off}: past it. Turn back.",
        Word.TURN_BACK: f"{off}. Turn back.",
        Word.HOLD: "at the best. Hold still.",
        Word.DONE: "at the best: done. Leave it there.",
        Word.WAIT: f"{off}: wait.",
    }[word]
    if course.still >= STUCK_AFTER and word not in {Word.HOLD, Word.DONE}:
        said = f"nothing moves. Try the other way; is it {goal.adjuster} that turns, and is it free?"
    return f"{goal.adjuster}: {said}"
