"""Guide an adjuster to a maximum: a level or an activity, with the best so far held.

Where the maximum is shows only once it has been passed: the reading rises, falls off on the far side, and the adjuster
is turned back until the best is reached again. Until then there is no target and so no error; which way to turn is not
known either, for nobody sees the hand. Only that it was the wrong way shows, in that the reading falls.

On the way up the hand goes at its own pace. Once the peak has been passed it is led move by move: wait until the
reading rests, then so far on or back, as a share of the last move. How far off a rest is follows from how far it lies
below the best; on which side, from how long the move was to be.
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

NOISE_IN_ZONE = 3.0
"""Times the noise of a pause that may lie between the best so far and a pause as good."""

NEEDLE_IN_ZONES = 8.0
NEEDLE_IN_SIGMAS = 8.0

FALL_ZONES = 6.0
FALL_SIGMAS = 6.0
"""Below the best by so much, in good zones and in noise, is seen to be off the peak."""

LEAST_CHANGE = 0.2
"""Of the good zone: a change that is none, however steady the readings are."""

PATIENT_MOVES = 8
"""Moves about a peak that has been passed; after each more, a little more is good enough."""

GIVING, MOST_GIVINGS = 1.25, 40
"""How much more each time, and how often."""

REST_S = 0.45
REST_READINGS = 2
"""A rest lasts so long, in at least so many readings."""

SAME_ZONES, SAME_SHARE = 0.5, 0.25
"""Of the good zone, and of the move that was meant: what is less is no new move."""

WRONG_WAY = 2.0
"""Times the move that was meant: one that would have to be longer to have gone past the peak went the other way."""

REALLY = 0.8
"""Of a move that is meant is made: the first of it goes into slack, and fingers can do only so much at once."""

SHORT_OF_IT = 0.9
"""Of the way to the peak is said: a hand that stops short goes on, one that overshoots has slack to take up."""

MOST_SHARE = 2.0

LONGEST_HOLD_S = 4.0
"""After so long at the best it is done, though the reading creeps about there."""

STEADY_AFTER_S = 3.0
"""Without a movement for so long the level is steady."""

BACK = frozenset({Word.PAST_IT, Word.TURN_BACK})


@dataclass(frozen=True, slots=True)
class PeakGoal:
    """What is turned to its maximum.

    Attributes:
        adjuster: Its name, for sentences.
        within: How far below the best is as good as the best, above zero, in the gauge's unit.
        say: Puts a difference of two readings in words, with its unit.
        good_enough: How far below the best will do for a hand that cannot come nearer; left out, three times `within`.
        decibels: Whether the values are decibels of a resonance, whose shape then tells how far off it is.
    """

    adjuster: str
    within: float
    say: Callable[[float], str]
    good_enough: float | None = None
    decibels: bool = True


@dataclass(frozen=True, slots=True)
class Lead:
    """What a hand that is led about a peak was told at its last rest.

    `level` there; `share`: how far it was to go, of the last move; `meant`: how far that is likely to be, in
    half-widths; `step`: by how much the move before changed the level.
    """

    word: Word
    level: float
    share: float | None
    meant: float
    step: float


@dataclass(frozen=True, slots=True)
class PeakCourse:
    """What is known after some readings; `advice` is what to show.

    `best`: the best pause so far; `first`: the first; `lowest`: the lowest. `fell_before`: whether it was seen clearly
    below the best before it was there; `fell_at`: the best when it was last seen clearly below it afterwards. `rising`:
    which way the last clear change went. `lead`: what was told last once the peak had been passed; `led`: how many
    moves were led, `rested` the best rest of them. `lost_s`: since when there is no reading;
    `good_s`: since when it has been at the best.
    """

    advice: Advice
    pauses: Pauses
    scale: NeedleScale
    value: float = 0.0
    best: float = -math.inf
    first: float | None = None
    lowest: float = math.inf
    fell_before: bool = False
    fell_at: float | None = None
    rising: bool | None = None
    near: bool = False
    lead: Lead | None = None
    led: int = 0
    rested: float = -math.inf
    lost_s: float | None = None
    good_s: float | None = None

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
        return _unread(goal, course, reading.at_s)
    if not math.isfinite(reading.value):
        raise ValueError("A live reading is not a number; give it without a value.")
    return _read(goal, course, reading, reading.value)


def _nothing(goal: PeakGoal) -> PeakCourse:
    scale = NeedleScale(0.0).after(0.0, NEEDLE_IN_ZONES * goal.within)
    return PeakCourse(no_reading_yet(scale.full_scale), Pauses(), scale)


def _unread(goal: PeakGoal, course: PeakCourse, at_s: float) -> PeakCourse:
    since_s = at_s if course.lost_s is None else course.lost_s
    word, sentence = without_reading(goal.adjuster, at_s - since_s, had_one=course.first is not None)
    advice = dataclasses.replace(
        course.advice,
        value=None,
        sigma=None,
        error=None,
        below_best=None,
        trend=Trend.UNKNOWN,
        word=word,
        of_last_move=None,
        sentence=sentence,
    )
    return dataclasses.replace(course, advice=advice, lost_s=since_s, pauses=course.pauses.interrupted())


def _read(goal: PeakGoal, before: PeakCourse, reading: LiveReading, value: float) -> PeakCourse:
    pauses = before.pauses.after(value, reading.at_s, reading.sigma, LEAST_CHANGE * goal.within)
    present = pauses.present
    course = dataclasses.replace(
        before,
        pauses=pauses,
        value=value,
        lost_s=None,
        best=_best(before, pauses),
        first=present.value if before.first is None else before.first,
        rising=_rising(before, pauses),
    )
    zone = _zone(goal, course)
    course = _with_falls(goal, course, before, zone)
    course, word, share = _led(goal, course) if course.passed else _climbing(goal, course, zone)
    floor = max(NEEDLE_IN_ZONES * goal.within, NEEDLE_IN_SIGMAS * pauses.noise)
    scale = before.scale.after(max(course.best - value, 0.0), floor)
    course = dataclasses.replace(course, scale=scale)
    return dataclasses.replace(course, advice=_advice(goal, course, word, share))


def _zone(goal: PeakGoal, course: PeakCourse) -> float:
    """Give how far below the best is good: more, for a hand that was led about it again and again."""
    enough = max(3.0 * goal.within if goal.good_enough is None else goal.good_enough, goal.within)
    given = min(goal.within * GIVING ** min(max(course.led - PATIENT_MOVES, 0), MOST_GIVINGS), enough)
    return max(given, NOISE_IN_ZONE * course.pauses.present.sigma)


def _fall(goal: PeakGoal, course: PeakCourse, zone: float) -> float:
    return max(FALL_ZONES * goal.within, FALL_SIGMAS * course.pauses.present.sigma, 1.5 * zone)


def _best(before: PeakCourse, pauses: Pauses) -> float:
    """Give the best pause; a single reading among quick ones may be on its way."""
    sure = [pauses.present] if pauses.present.readings >= REST_READINGS or not pauses.closed else []
    sure += [pauses.closed[-1]] if pauses.closed else []
    return max([before.best, *(each.value - each.sigma for each in sure)])


def _rising(before: PeakCourse, pauses: Pauses) -> bool | None:
    """Tell which way the level went the last time that it clearly went anywhere."""
    last = pauses.before
    if last is None:
        return before.rising
    change = pauses.present.value - last.value
    return before.rising if abs(change) <= pauses.clear(pauses.present, last) else bool(change > 0.0)


def _with_falls(goal: PeakGoal, course: PeakCourse, before: PeakCourse, zone: float) -> PeakCourse:
    """Keep account of falls before and after a visit to the best; a clearly better best undoes what fell after."""
    level, fall = course.pauses.present.value, _fall(goal, course, zone)
    lowest = min(before.lowest, level)
    if course.best - level <= zone:
        # Here at the best: whatever was clearly below it until now lies on the side that it came from.
        came_from_below = before.fell_before or course.best - lowest > fall
        undone = before.fell_at is not None and course.best > before.fell_at + fall
        course = dataclasses.replace(course, near=True, fell_before=came_from_below, lowest=lowest)
        return dataclasses.replace(course, fell_at=None, lead=None, led=0, rested=-math.inf) if undone else course
    fell = before.fell_before and course.best - level > fall
    return dataclasses.replace(course, near=False, fell_at=course.best if fell else before.fell_at, lowest=lowest)


Told = tuple[PeakCourse, Word, float | None]


def _climbing(goal: PeakGoal, course: PeakCourse, zone: float) -> Told:
    """Before the peak has been passed: on, until it falls off; back, where it has fallen and not risen since."""
    fallen = course.best - course.pauses.present.value > _fall(goal, course, zone)
    was_back = course.advice.word in BACK
    back = not course.near and course.rising is False and (fallen or was_back)
    return course, Word.TURN_BACK if back else Word.TURN, None


def _led(goal: PeakGoal, course: PeakCourse) -> Told:
    """About a peak that has been passed: wait for a rest, then say how far on or back."""
    present, lead = course.pauses.present, course.lead
    if lead is not None and not _has_moved(goal, course, lead):
        return course, lead.word, lead.share
    now_s = course.pauses.at[-1][0]
    good_s = (now_s if course.good_s is None else course.good_s) if course.near else None
    course = dataclasses.replace(course, good_s=good_s)
    if good_s is not None and now_s - good_s >= LONGEST_HOLD_S:
        return dataclasses.replace(course, lead=None), Word.DONE, None
    if present.seconds < REST_S or present.readings < REST_READINGS:
        return course, Word.WAIT, None
    if course.near:
        return dataclasses.replace(course, lead=None), Word.DONE if present.seconds >= SETTLED_S else Word.HOLD, None
    lead = _judge(goal, course, present)
    course = dataclasses.replace(course, lead=lead, led=course.led + 1, rested=max(course.rested, present.value))
    if course.led > PATIENT_MOVES:
        # A best that no rest about the peak comes back to was none: a reading that overstated, or a level that drifted.
        course = dataclasses.replace(course, best=min(course.best, course.rested))
    return course, lead.word, lead.share


def _has_moved(goal: PeakGoal, course: PeakCourse, lead: Lead) -> bool:
    """Tell whether the hand has moved since it was told: by more than noise and what the meter's lag leaves."""
    present = course.pauses.present
    least = max(SAME_ZONES * goal.within, course.pauses.clear(present, present))
    if present.value < lead.level:
        return lead.level - present.value > max(least, SAME_SHARE * lead.step)
    here, there = (_off(goal, course.best, each) for each in (present.value, lead.level))
    return present.value - lead.level > least and there - here > SAME_SHARE * lead.meant


def _judge(goal: PeakGoal, course: PeakCourse, present: Pause) -> Lead:
    """Say where to, from how far off the peak the hand rests now and rested before."""
    here, lead = _off(goal, course.best, present.value), course.lead
    last = course.pauses.before
    was = lead.level if lead is not None else present.value if last is None else last.value
    there = _off(goal, course.best, was)
    if lead is None:
        back, move = True, _first_move(course, here, there)
    else:
        back, move = _side(here, there, lead.meant)
    share = min(max(SHORT_OF_IT * here / move, LEAST_SHARE), MOST_SHARE) if move > 0.0 else None
    meant = REALLY * min(share or 1.0, 1.0) * move
    return Lead(Word.PAST_IT if back else Word.TURN, present.value, share, meant, abs(present.value - was))


def _first_move(course: PeakCourse, here: float, there: float) -> float:
    """Give how long the move was that left the peak: from its far side, or farther out on this one."""
    farther = course.pauses.closed[-2:]
    from_far_side = len(farther) > 1 and farther[0].value < farther[1].value
    return here + there if from_far_side or there >= here else here - there


def _side(here: float, there: float, meant: float) -> tuple[bool, float]:
    """Tell whether a move towards the peak went past it, and how long it was; all in half-widths.

    Both ends may lie on the same side of the peak, or on either: the move that was meant decides.
    """
    over, short = here + there, there - here
    if short <= 0.0:  # past it and beyond, or the wrong way: back in either case
        return True, over if over < WRONG_WAY * meant else max(-short, LEAST_SHARE * over)
    return (False, short) if over * short >= meant**2 else (True, over)


def _off(goal: PeakGoal, best: float, value: float) -> float:
    """Give how far off the peak a value is, in half-widths of a single circuit, or in proportion to that."""
    below = max(best - value, 0.0)
    return math.sqrt(10.0 ** min(below / 10.0, 10.0) - 1.0) if goal.decibels else math.sqrt(below)


def _advice(goal: PeakGoal, course: PeakCourse, word: Word, share: float | None) -> Advice:
    below = max(course.best - course.value, 0.0)
    trend = Trend.UNKNOWN if course.rising is None else Trend.NEARER if course.rising else Trend.FARTHER
    return Advice(
        value=course.value,
        sigma=course.pauses.noise,
        target=course.best if course.passed else None,
        error=-below if course.passed else None,
        full_scale=course.scale.full_scale,
        best=course.best,
        below_best=below,
        trend=Trend.STEADY if course.pauses.still_s > STEADY_AFTER_S else trend,
        word=word,
        turn=0,
        turns_left=None,
        sentence=_sentence(goal, course, word, below, share),
        of_last_move=share,
    )


def _sentence(goal: PeakGoal, course: PeakCourse, word: Word, below: float, share: float | None) -> str:
    off = f"{goal.say(below)} below the best"
    far = "" if share is None else f", {share_of_last_move(share)}"
    rising = "rising" if course.rising else "turn on, until it falls off clearly"
    enough = "good enough: leave it there." if course.led > PATIENT_MOVES else "done. Leave it there."
    said = {
        Word.TURN: f"at the best so far, {rising}." if course.near and not course.passed else f"{off}: go on{far}.",
        Word.PAST_IT: f"{off}: past it. Turn back{far}.",
        Word.TURN_BACK: f"{off}. Turn back{far}.",
        Word.HOLD: "at the best. Hold still.",
        Word.DONE: f"at the best: {enough}",
        Word.WAIT: f"{off}: wait until the reading rests.",
    }[word]
    asked = "" if word in {Word.HOLD, Word.DONE} else asked_whether_it_turns(goal.adjuster, course.pauses.still_s)
    return f"{goal.adjuster}: {said}{asked}"
