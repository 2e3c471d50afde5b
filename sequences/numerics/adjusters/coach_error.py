"""Guide an adjuster to a target that is known: an oscillator's error, a beat, the balance of two edges.

Each reading gives an error with its sign, without a dead zone. Which way to turn follows from the sign where the
receiver file says what clockwise does; where turning that way has led away twice, the file is not believed any more.
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

NEEDLE_IN_ZONES = 3.0
"""The finest scale holds so many half-widths of the good zone, so that it can be seen on it."""

NEEDLE_IN_SIGMAS = 6.0
"""And so many times the noise, which would fill a finer one."""

LEAVE_ZONE = 1.25
"""Of the good zone's half-width: held or done is taken back only beyond this."""

SETTLED = 3
MOST_SETTLED = 12
"""Readings in a row within the zone before it is done: more where noise asks for a mean."""

SURE_SIGMAS = 2.0
SURELY_ASTRAY = 2
STRAYS_BELIEVED = 2
"""Times that turning led away before the receiver file's word on the way to turn is dropped."""


@dataclass(frozen=True, slots=True)
class ErrorGoal:
    """What is turned and where it should come to.

    Attributes:
        adjuster: Its name, for sentences.
        target: The value wanted, in the gauge's unit.
        within: Half the width of the good zone about it, above zero.
        say: Puts a size in words, with its unit.
        clockwise: +1 where a turn clockwise raises the value, -1 where it lowers it, 0 where nobody knows.
        per_turn: How far a turn moves the value, as a size; None where nobody knows.
        nudge_turns: What the person's one equal nudge is, in turns.
    """

    adjuster: str
    target: float
    within: float
    say: Callable[[float], str]
    clockwise: int = 0
    per_turn: float | None = None
    nudge_turns: float = 0.125


@dataclass(frozen=True, slots=True)
class ErrorCourse:
    """What is known after some readings; `advice` is what to show.

    `side`: on which side of the target the value last surely was. `astray`: readings in a row that went away;
    `strays`: how often they surely did. `still`: readings without a movement. `per_nudge`: what the last nudge moved.
    `at_nudge`: the error before it. `closest`: the smallest smoothed error so far.
    """

    advice: Advice
    recent: tuple[LiveReading, ...]
    errors: tuple[float, ...]
    scale: NeedleScale
    noise: Noise = field(default_factory=Noise)
    side: int = 0
    astray: int = 0
    strays: int = 0
    still: int = 0
    settled: int = 0
    per_nudge: float | None = None
    at_nudge: float | None = None
    closest: float | None = None


def coach_error(goal: ErrorGoal, before: ErrorCourse | None, reading: LiveReading) -> ErrorCourse:
    """Give what is known after one more reading.

    Args:
        goal: What is turned, and where to.
        before: What was known; None before the first reading.
        reading: The latest one. One without a value moves nothing that was known.

    Raises:
        ValueError: the goal's zone has no width, or the reading is not finite.
    """
    if not goal.within > 0.0:
        raise ValueError("The good zone about a target needs a width above zero.")
    if reading.value is None:
        return _unread(goal, before, reading)
    if not math.isfinite(reading.value):
        raise ValueError("A live reading is not a number; give it without a value.")
    return _read(goal, before or _nothing(goal), reading, reading.value - goal.target)


def _nothing(goal: ErrorGoal) -> ErrorCourse:
    scale = NeedleScale(0.0).after(0.0, NEEDLE_IN_ZONES * goal.within)
    return ErrorCourse(no_reading_yet(scale.full_scale, goal.target), (), (), scale)


def _unread(goal: ErrorGoal, before: ErrorCourse | None, reading: LiveReading) -> ErrorCourse:
    """No value: the side may be known all the same, and with it the way."""
    course = before or _nothing(goal)
    blank = dataclasses.replace(
        course.advice, value=None, sigma=None, error=None, turns_left=None, trend=Trend.UNKNOWN, turn=0
    )
    if not reading.side:
        advice = dataclasses.replace(blank, word=Word.WAIT, sentence="The meter gives no reading: wait.")
        return dataclasses.replace(course, advice=advice, settled=0)
    turn = _way(goal, reading.side, course.strays)
    sentence = f"{goal.adjuster}: far too {_side_word(reading.side)}. {_turn_words(turn)}."
    advice = dataclasses.replace(blank, word=Word.TURN, turn=turn, sentence=sentence)
    return dataclasses.replace(course, advice=advice, side=reading.side, settled=0)


def _read(goal: ErrorGoal, before: ErrorCourse, reading: LiveReading, error: float) -> ErrorCourse:
    recent = (*before.recent, reading)[-WINDOW:]
    errors = (*before.errors, error)[-WINDOW:]
    known = before.noise.after(recent)
    noise = known.sigma
    clear = CLEAR_SIGMAS * noise
    course = dataclasses.replace(
        before,
        recent=recent,
        noise=known,
        errors=errors,
        scale=before.scale.after(abs(error), max(NEEDLE_IN_ZONES * goal.within, NEEDLE_IN_SIGMAS * noise)),
    )
    course = _with_nudges(course, reading, clear)
    return _advised(goal, before, course, noise)


def _advised(goal: ErrorGoal, before: ErrorCourse, course: ErrorCourse, noise: float) -> ErrorCourse:
    clear = CLEAR_SIGMAS * noise
    now = smooth(course.errors, 3)
    trend = trend_of(_distances(course.errors), max(clear, 1e-9 * goal.within))
    if trend is Trend.FARTHER and _way(goal, 1, before.strays):
        # The way is known: it takes more than a lagging meter to say that it was the wrong one.
        trend = trend_of(_distances(course.errors), max(clear, goal.within))
    in_zone = _in_zone(goal, before, course.errors[-1], now)
    settled = before.settled + 1 if in_zone else 0
    # Within the zone the side is let be, so that leaving it on the far side is seen to be past it.
    side = before.side if in_zone else _sure_side(now, clear, before.side)
    word = _word(goal, before, course, _Now(now, noise, trend, side, in_zone, settled))
    astray = before.astray + 1 if word is Word.TURN_BACK and trend is Trend.FARTHER else 0
    strays = before.strays + int(astray == SURELY_ASTRAY)
    still = before.still + 1 if trend is Trend.STEADY else 0
    closest = now if before.closest is None else min(before.closest, now, key=abs)
    course = dataclasses.replace(
        course, side=side, astray=astray, strays=strays, still=still, settled=settled, closest=closest
    )
    return dataclasses.replace(course, advice=_advice(goal, course, trend, word, noise))


@dataclass(frozen=True, slots=True)
class _Now:
    """What the word follows from: the smoothed error, its noise, the trend, the side, and how long it has been good."""

    error: float
    noise: float
    trend: Trend
    side: int
    in_zone: bool
    settled: int


def _word(goal: ErrorGoal, before: ErrorCourse, course: ErrorCourse, now: _Now) -> Word:
    if now.in_zone:
        return Word.DONE if _is_done(goal, before, course, now) else Word.HOLD
    was = before.advice.word
    if before.side and now.side == -before.side:
        return Word.PAST_IT
    if now.trend is Trend.FARTHER:
        return Word.TURN_BACK
    if was in {Word.PAST_IT, Word.TURN_BACK} and now.trend is not Trend.NEARER:
        return was
    return Word.TURN


def _is_done(goal: ErrorGoal, before: ErrorCourse, course: ErrorCourse, now: _Now) -> bool:
    """Done is where enough readings in a row are good for their mean to be surely within; it stays until left."""
    if before.advice.word is Word.DONE:
        return True
    wanted = math.ceil((SURE_SIGMAS * now.noise / (0.5 * goal.within)) ** 2)
    count = min(max(SETTLED, wanted), MOST_SETTLED)
    if now.settled < count:
        return False
    latest = course.errors[-count:]
    return abs(sum(latest) / count) <= LEAVE_ZONE * goal.within and now.trend is not Trend.FARTHER


def _in_zone(goal: ErrorGoal, before: ErrorCourse, latest: float, now: float) -> bool:
    """Judge the median, and the latest reading where it is coming; leave only beyond a wider zone."""
    if before.advice.word in {Word.HOLD, Word.DONE}:
        return min(abs(now), abs(latest)) <= LEAVE_ZONE * goal.within
    return abs(now) <= goal.within and abs(latest) <= LEAVE_ZONE * goal.within


def _sure_side(now: float, clear: float, before: int) -> int:
    return before if abs(now) <= 0.5 * clear or now == 0.0 else int(math.copysign(1, now))


def _distances(errors: tuple[float, ...]) -> list[float]:
    """Give how far off it was, smoothed over three readings, at each of the last few since it last crossed the target.

    Before it crossed, coming nearer was right; after, it is what it goes away by that counts.
    """
    first = max(1, len(errors) - LOOK_BACK)
    smoothed = [smooth(errors[:end], 3) for end in range(first, len(errors) + 1)]
    crossed = [place for place, each in enumerate(smoothed) if each * smoothed[-1] < 0.0]
    return [abs(each) for each in smoothed[crossed[-1] + 1 if crossed else 0 :]]


def _with_nudges(course: ErrorCourse, reading: LiveReading, clear: float) -> ErrorCourse:
    """Learn from nudges the person has signalled how far one goes."""
    if not reading.nudges:
        return course
    now = course.errors[-1]
    moved = None if course.at_nudge is None else abs(now - course.at_nudge) / reading.nudges
    if moved is None or moved <= clear:
        return dataclasses.replace(course, at_nudge=now)
    return dataclasses.replace(course, at_nudge=now, per_nudge=moved)


def _way(goal: ErrorGoal, side: int, strays: int) -> int:
    return 0 if strays >= STRAYS_BELIEVED else -side * goal.clockwise


def _turns_left(goal: ErrorGoal, course: ErrorCourse, error: float) -> float | None:
    if goal.per_turn:
        return abs(error) / goal.per_turn
    if course.per_nudge:
        return abs(error) / course.per_nudge * goal.nudge_turns
    return None


def _advice(goal: ErrorGoal, course: ErrorCourse, trend: Trend, word: Word, noise: float) -> Advice:
    error, reading = course.errors[-1], course.recent[-1]
    side = int(math.copysign(1, error)) if error else 0
    turning = word in {Word.TURN, Word.PAST_IT}
    turn = _way(goal, side, course.strays) if turning else 0
    turns_left = None if word in {Word.HOLD, Word.DONE} else _turns_left(goal, course, error)
    return Advice(
        value=reading.value,
        sigma=noise,
        target=goal.target,
        error=error,
        full_scale=course.scale.full_scale,
        best=None,
        below_best=None,
        trend=trend,
        word=word,
        turn=turn,
        turns_left=turns_left,
        sentence=_sentence(goal, course, trend, word, turn, turns_left),
        closest=course.closest,
    )


def _side_word(side: int) -> str:
    return "high" if side > 0 else "low"


def _turn_words(turn: int) -> str:
    return {0: "Turn", 1: "Turn clockwise", -1: "Turn anticlockwise"}[turn]


def _sentence(
    goal: ErrorGoal, course: ErrorCourse, trend: Trend, word: Word, turn: int, turns_left: float | None
) -> str:
    error = course.errors[-1]
    off = f"{goal.say(abs(error))} {_side_word(int(math.copysign(1, error)))}" if error else "no error at all"
    about = "" if turns_left is None else f", about {turns_left:.2g} of a turn"
    said = {
        Word.TURN: f"{off}. {_turn_words(turn)}{about}.",
        Word.PAST_IT: f"{off}: past it. Turn back{about}.",
        Word.TURN_BACK: f"{off}{' and going away' if trend is Trend.FARTHER else ''}. Turn back{about}.",
        Word.HOLD: f"{off}: within limits. Hold still.",
        Word.DONE: f"{off}: done. Leave it there.",
        Word.WAIT: f"{off}: wait.",
    }[word]
    if course.still >= STUCK_AFTER and word not in {Word.HOLD, Word.DONE}:
        said += f" Nothing moves: is it {goal.adjuster} that turns, and is it free?"
    return f"{goal.adjuster}: {said}"
