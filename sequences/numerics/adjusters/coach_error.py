"""Guide an adjuster to a target that is known: an oscillator's error, a beat, the balance of two edges.

Each reading gives an error with its sign, without a dead zone. Which way to turn follows from the sign where the
receiver file says what clockwise does; where turning that way has led away, the file is not believed any more. Words
follow from the pauses between a hand's moves. Once the target has been crossed the hand is led move by move: wait until
the reading rests, then so far on or back, as a share of the last move.
"""

import dataclasses
import math
from collections.abc import Callable
from dataclasses import dataclass

from sequences.numerics.adjusters.coach import (
    LEAST_SHARE,
    SETTLED_S,
    Advice,
    LiveReading,
    NeedleScale,
    Trend,
    Word,
    asked_whether_it_turns,
    no_reading_yet,
    share_of_last_move,
    without_reading,
)
from sequences.numerics.adjusters.pauses import Pause, Pauses

NEEDLE_IN_ZONES = 3.0
"""The finest scale holds so many half-widths of the good zone, so that it can be seen on it."""

NEEDLE_IN_SIGMAS = 6.0
"""And so many times the noise, which would fill a finer one."""

LEAVE_ZONE = 1.25
"""Of the good zone's half-width: held or done is taken back only beyond this."""

LEAST_CHANGE = 0.1
"""Of the good zone: a change that is none, however steady the readings are."""

SURE_SIGMAS = 2.0
"""Of the mean of a rest, beside half the good zone: so well is it to be known before it is done."""

LONGEST_HOLD_S = 3.0
"""After so long in the zone it is done though its mean is known less well."""

PATIENT_MOVES = 8
"""Moves about a target that has been crossed; after each more, a little more is good enough."""

GIVING, MOST_GIVINGS, MOST_GIVEN = 1.25, 40, 2.0
"""How much more each time, how often, and in all: the limit lies well beyond it."""

REST_S = 0.45
REST_READINGS = 2
"""A rest lasts so long, in at least so many readings."""

SAME_SHARE = 0.25
"""Of what the last move made: a smaller change is what the meter's lag leaves."""

SHORT_OF_IT = 0.9
"""Of the way is said: a hand that stops short goes on, one that overshoots has slack to take up."""

MOST_SHARE = 2.0
STEADY_AFTER_S = 3.0
"""Without a movement for so long the reading is steady."""

BACK = frozenset({Word.PAST_IT, Word.TURN_BACK})


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
class Lead:
    """What a hand that is led about its target was told at its last rest, at which error.

    `step`: by how much the move before changed the error.
    """

    word: Word
    error: float
    share: float | None
    step: float


@dataclass(frozen=True, slots=True)
class ErrorCourse:
    """What is known after some readings; `advice` is what to show.

    `error`: the latest. `side`: on which side of the target it last surely was; `crossed`: whether it has been on both.
    `nearer`: whether the last clear change was for the better. `strays`: how often turning the way that was told led
    away. `lead`: what was told last about a target that was crossed; `led`: how many moves were led. `per_nudge`: what
    the last nudge moved; `at_nudge`: the error before it. `closest`: the smallest error of a pause so far. `lost_s`:
    since when there has been no reading; `good_s`: since when it has been in the good zone.
    """

    advice: Advice
    pauses: Pauses
    scale: NeedleScale
    error: float = 0.0
    side: int = 0
    crossed: bool = False
    nearer: bool | None = None
    strays: int = 0
    lead: Lead | None = None
    led: int = 0
    per_nudge: float | None = None
    at_nudge: float | None = None
    closest: float | None = None
    lost_s: float | None = None
    good_s: float | None = None
    read: bool = False


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
    course = before or _nothing(goal)
    if reading.value is None:
        return _unread(goal, course, reading)
    if not math.isfinite(reading.value):
        raise ValueError("A live reading is not a number; give it without a value.")
    return _read(goal, course, reading, reading.value - goal.target)


def _nothing(goal: ErrorGoal) -> ErrorCourse:
    scale = NeedleScale(0.0).after(0.0, NEEDLE_IN_ZONES * goal.within)
    return ErrorCourse(no_reading_yet(scale.full_scale, goal.target), Pauses(), scale)


def _unread(goal: ErrorGoal, course: ErrorCourse, reading: LiveReading) -> ErrorCourse:
    """No value: the side may be known all the same, and with it the way; else it is lost after a while."""
    since_s = reading.at_s if course.lost_s is None else course.lost_s
    course = dataclasses.replace(course, pauses=course.pauses.interrupted(), lost_s=since_s)
    blank = dataclasses.replace(
        course.advice,
        value=None,
        sigma=None,
        error=None,
        turns_left=None,
        of_last_move=None,
        trend=Trend.UNKNOWN,
        turn=0,
    )
    if reading.side:
        turn = _way(goal, reading.side, course.strays)
        sentence = f"{goal.adjuster}: far too {_side_word(reading.side)}. {_turn_words(turn)}."
        advice = dataclasses.replace(blank, word=Word.TURN, turn=turn, sentence=sentence)
        return dataclasses.replace(course, advice=advice, side=reading.side)
    word, sentence = without_reading(goal.adjuster, reading.at_s - since_s, had_one=course.read)
    return dataclasses.replace(course, advice=dataclasses.replace(blank, word=word, sentence=sentence))


def _read(goal: ErrorGoal, before: ErrorCourse, reading: LiveReading, error: float) -> ErrorCourse:
    pauses = before.pauses.after(error, reading.at_s, reading.sigma, LEAST_CHANGE * goal.within)
    present = pauses.present
    floor = max(NEEDLE_IN_ZONES * goal.within, NEEDLE_IN_SIGMAS * pauses.noise)
    course = dataclasses.replace(
        before,
        pauses=pauses,
        error=error,
        scale=before.scale.after(abs(error), floor),
        nearer=_nearer(before, pauses),
        closest=_closest(before, pauses),
        lost_s=None,
        read=True,
    )
    course = _with_nudges(course, reading)
    course = _with_side(goal, course, present)
    course, word, share = _told(goal, course)
    stray = word is Word.TURN_BACK and before.advice.word is not Word.TURN_BACK and before.advice.turn != 0
    course = dataclasses.replace(course, strays=course.strays + int(stray))
    return dataclasses.replace(course, advice=_advice(goal, course, word, share))


def _nearer(before: ErrorCourse, pauses: Pauses) -> bool | None:
    """Tell whether the last clear change was for the better; on the far side of the target none has been yet."""
    last = pauses.before
    if last is None or abs(pauses.present.value - last.value) <= pauses.clear(pauses.present, last):
        return before.nearer
    if last.value * pauses.present.value < 0.0:
        return False  # it has gone past: going on leads away
    return bool(abs(pauses.present.value) < abs(last.value))


def _closest(before: ErrorCourse, pauses: Pauses) -> float:
    """Give the smallest error of a pause; a single reading among quick ones may be a pop or on its way."""
    sure = [pauses.present.value] if pauses.present.readings >= REST_READINGS or before.closest is None else []
    sure += [] if before.closest is None else [before.closest]
    return min([*sure, *(each.value for each in pauses.closed[-1:])], key=abs)


def _with_side(goal: ErrorGoal, course: ErrorCourse, present: Pause) -> ErrorCourse:
    """Keep the side it surely is on; within the zone it is let be, so that leaving it on the far side is past it."""
    if abs(present.value) <= max(goal.within, SURE_SIGMAS * present.sigma):
        return course
    side = int(math.copysign(1, present.value))
    return dataclasses.replace(course, side=side, crossed=course.crossed or side == -course.side)


Told = tuple[ErrorCourse, Word, float | None]


def _told(goal: ErrorGoal, course: ErrorCourse) -> Told:
    present = course.pauses.present
    held = course.advice.word in {Word.HOLD, Word.DONE}
    zone = goal.within * min(GIVING ** min(max(course.led - PATIENT_MOVES, 0), MOST_GIVINGS), MOST_GIVEN)
    # What is shown and what is meant must both lie within, or a word would contradict the needle.
    latest = abs(course.error) <= max(LEAVE_ZONE * zone, zone + SURE_SIGMAS * course.pauses.noise)
    if abs(present.value) <= (LEAVE_ZONE if held else 1.0) * zone and latest:
        now_s = course.pauses.at[-1][0]
        good_s = now_s if course.good_s is None else course.good_s
        # However it creeps about within the zone, as a drifting oscillator does: long enough there is done.
        done = course.advice.word is Word.DONE or _is_done(zone, present) or now_s - good_s >= LONGEST_HOLD_S
        return dataclasses.replace(course, lead=None, good_s=good_s), Word.DONE if done else Word.HOLD, None
    course = dataclasses.replace(course, good_s=None)
    if course.crossed:
        return _led(goal, course)
    return _coming(course)


def _is_done(zone: float, present: Pause) -> bool:
    """Done is a rest in the zone whose mean is known well enough, or that has lasted long."""
    sure = SURE_SIGMAS * present.sigma <= max(0.5 * zone, zone - abs(present.value))
    rests = present.seconds >= SETTLED_S and present.readings >= REST_READINGS
    return rests and sure


def _coming(course: ErrorCourse) -> Told:
    """Before the target was ever crossed: on while it comes nearer, back once it has gone away and not come since."""
    word = Word.TURN_BACK if course.nearer is False else Word.TURN
    present, last = course.pauses.present, course.pauses.before
    share = None
    if word is Word.TURN and last is not None and _rests(present) and abs(last.value) > abs(present.value):
        share = abs(present.value) / (abs(last.value) - abs(present.value))
    near = share is not None and share <= MOST_SHARE
    return course, word, SHORT_OF_IT * share if near and share is not None else None


def _rests(present: Pause) -> bool:
    return present.seconds >= REST_S and present.readings >= REST_READINGS


def _led(goal: ErrorGoal, course: ErrorCourse) -> Told:
    """About a target that has been crossed: wait for a rest, then say how far on or back."""
    present, lead = course.pauses.present, course.lead
    if lead is not None:
        least = max(SAME_SHARE * lead.step, course.pauses.clear(present, present))
        if abs(present.value - lead.error) <= least:
            return course, lead.word, lead.share
    if not _rests(present):
        return course, Word.WAIT, None
    lead = _judge(goal, course, present)
    return dataclasses.replace(course, lead=lead, led=course.led + 1), lead.word, lead.share


def _judge(goal: ErrorGoal, course: ErrorCourse, present: Pause) -> Lead:
    last = course.pauses.before
    was = course.lead.error if course.lead is not None else present.value if last is None else last.value
    here, step = present.value, present.value - was
    share = min(max(SHORT_OF_IT * abs(here / step), LEAST_SHARE), MOST_SHARE) if step else None
    if here * was <= 0.0 or (course.lead is None and abs(here) >= abs(was)):
        word = Word.PAST_IT
    else:
        word = Word.TURN if abs(here) < abs(was) else Word.TURN_BACK
    if course.lead is None and abs(was) <= goal.within:
        word = Word.PAST_IT  # it has just left the good zone
    return Lead(word, here, share, abs(step))


def _with_nudges(course: ErrorCourse, reading: LiveReading) -> ErrorCourse:
    """Learn from nudges the person has signalled how far one goes."""
    if not reading.nudges:
        return course
    now = course.pauses.present.value if course.pauses.odd is None else course.error
    moved = None if course.at_nudge is None else abs(now - course.at_nudge) / reading.nudges
    if moved is None or moved <= course.pauses.clear(course.pauses.present, course.pauses.present):
        return dataclasses.replace(course, at_nudge=now)
    return dataclasses.replace(course, at_nudge=now, per_nudge=moved)


def _way(goal: ErrorGoal, side: int, strays: int) -> int:
    return 0 if strays else -side * goal.clockwise


def _turns_left(goal: ErrorGoal, course: ErrorCourse, error: float) -> float | None:
    if goal.per_turn:
        return abs(error) / goal.per_turn
    if course.per_nudge:
        return abs(error) / course.per_nudge * goal.nudge_turns
    return None


def _advice(goal: ErrorGoal, course: ErrorCourse, word: Word, share: float | None) -> Advice:
    error = course.error
    side = int(math.copysign(1, course.pauses.present.value)) if course.pauses.present.value else 0
    turn = _way(goal, side, course.strays) if word in {Word.TURN, Word.PAST_IT} else 0
    turns_left = None if word in {Word.HOLD, Word.DONE, Word.WAIT} else _turns_left(goal, course, error)
    trend = Trend.UNKNOWN if course.nearer is None else Trend.NEARER if course.nearer else Trend.FARTHER
    return Advice(
        value=error + goal.target,
        sigma=course.pauses.noise,
        target=goal.target,
        error=error,
        full_scale=course.scale.full_scale,
        best=None,
        below_best=None,
        trend=Trend.STEADY if course.pauses.still_s > STEADY_AFTER_S else trend,
        word=word,
        turn=turn,
        turns_left=turns_left,
        sentence=_sentence(goal, course, word, turn, _how_far(turns_left, share)),
        closest=course.closest,
        of_last_move=share,
    )


def _how_far(turns_left: float | None, share: float | None) -> str:
    if turns_left is not None:
        return f", about {turns_left:.2g} of a turn"
    return "" if share is None else f", {share_of_last_move(share)}"


def _side_word(side: int) -> str:
    return "high" if side > 0 else "low"


def _turn_words(turn: int) -> str:
    return {0: "Turn", 1: "Turn clockwise", -1: "Turn anticlockwise"}[turn]


def _sentence(goal: ErrorGoal, course: ErrorCourse, word: Word, turn: int, about: str) -> str:
    error = course.error
    off = f"{goal.say(abs(error))} {_side_word(int(math.copysign(1, error)))}" if error else "no error at all"
    going_on = "Go on" if course.nearer and not turn else _turn_words(turn)
    away = " and going away" if course.nearer is False else ""
    enough = "good enough: leave it there" if course.led > PATIENT_MOVES else "done. Leave it there"
    said = {
        Word.TURN: f"{off}. {going_on}{about}.",
        Word.PAST_IT: f"{off}: past it. Turn back{about}.",
        Word.TURN_BACK: f"{off}{away}. Turn back{about}.",
        Word.HOLD: f"{off}: within limits. Hold still.",
        Word.DONE: f"{off}: {enough}.",
        Word.WAIT: f"{off}: wait until the reading rests.",
    }[word]
    asked = "" if word in {Word.HOLD, Word.DONE} else asked_whether_it_turns(goal.adjuster, course.pauses.still_s)
    return f"{goal.adjuster}: {said}{asked}"
