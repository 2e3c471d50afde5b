"""What to tell a person who turns an adjuster with an eye on the reading: what both kinds of gauge have in common.

`coach_error` guides to a target that is known, `coach_peak` to a maximum that is known only once it has been passed.
Both are folds: a reading and what was known before give what is known now, and nothing else is remembered. The figure
shown is always the latest reading; words and trend follow from the pauses between a hand's moves, so that neither
noise nor a single pop makes them waver, and no particular rate of readings is needed.
"""

import math
from dataclasses import dataclass
from enum import StrEnum

ASK_AFTER_S, DOUBT_AFTER_S = 10.0, 25.0
"""Without any movement for so long it is asked whether the adjuster is being turned; then it is doubted."""

SETTLED_S = 0.8
"""What stands good for so long is done."""

LEAST_SHARE = 0.1
"""Of the last move: a smaller share is said as this, for a hand can do no less."""

LOST_AFTER_S = 1.5
"""Without a reading for so long the signal is lost."""

NONE_YET_AFTER_S, LOOK_AFTER_S = 3.0, 30.0
"""Without a first reading for so long it is to be sought by turning; then to be looked for on the bench."""

DOWN_AFTER = 4
"""Readings in a row that would fit the next smaller scale before it is taken."""

DOWN_SHARE = 0.75
"""Of the smaller scale: readings must keep so far from its end."""

UP_SHARE = 0.95
"""Of the scale: a needle beyond this asks for the next larger one."""


class Trend(StrEnum):
    """Whether what is read comes nearer to where it should be."""

    NEARER = "nearer"
    FARTHER = "farther"
    STEADY = "steady"
    UNKNOWN = "unknown"


class Word(StrEnum):
    """What to do with the hands, in one word."""

    TURN = "turn"
    TURN_BACK = "turn back"
    PAST_IT = "past it"
    HOLD = "hold"
    DONE = "done"
    WAIT = "wait"


@dataclass(frozen=True, slots=True)
class LiveReading:
    """One reading while an adjuster is turned, taken at `at_s` seconds.

    `value` is None where the meter overloads, gives no number or nothing is heard; `side` then says on which side of
    the target it surely is (+1 above, -1 below), 0 where nobody knows. `nudges`: how many equal nudges the person
    said to have made since the reading before.
    """

    value: float | None
    sigma: float = 0.0
    side: int = 0
    nudges: int = 0
    at_s: float = 0.0


@dataclass(frozen=True, slots=True)
class Advice:
    """What to show after a reading; figures in the gauge's unit, None where they are not known.

    `turn` is +1 for clockwise, -1 for anticlockwise, 0 where it is not known which way to turn. `best` is the highest
    level held, where a peak is sought; `closest` the smallest error so far, with its sign, where the target is known.
    """

    value: float | None
    sigma: float | None
    target: float | None
    error: float | None
    full_scale: float
    best: float | None
    below_best: float | None
    trend: Trend
    word: Word
    turn: int
    turns_left: float | None
    sentence: str
    closest: float | None = None
    of_last_move: float | None = None


def no_reading_yet(full_scale: float, target: float | None = None) -> Advice:
    """Give what to show before the first reading."""
    return Advice(
        value=None,
        sigma=None,
        target=target,
        error=None,
        full_scale=full_scale,
        best=None,
        below_best=None,
        trend=Trend.UNKNOWN,
        word=Word.WAIT,
        turn=0,
        turns_left=None,
        sentence="No reading yet: wait.",
    )


def without_reading(adjuster: str, since_s: float, *, had_one: bool) -> tuple[Word, str]:
    """Say what to do without a reading for so long: there is a way on whether there has ever been one or not."""
    if had_one and since_s >= LOST_AFTER_S:
        return Word.TURN_BACK, f"{adjuster}: the signal was lost: go back."
    if had_one or since_s < NONE_YET_AFTER_S:
        return Word.WAIT, f"{adjuster}: the meter gives no reading: wait."
    if since_s < LOOK_AFTER_S:
        return Word.TURN, f"{adjuster}: no reading yet. Turn slowly, up to a turn either way, until there is one."
    look = "Turn it back to where it was, say that it does not turn, and check the leads, the band and the controls."
    return Word.TURN_BACK, f"{adjuster}: still no reading. {look}"


def share_of_last_move(share: float) -> str:
    """Say a share of the last move as a person would take it."""
    said = ((0.18, "a tenth"), (0.29, "a quarter"), (0.42, "a third"), (0.6, "half"), (0.85, "three quarters"))
    for most, words in said:
        if share <= most:
            return f"about {words} of the last move"
    return "as far as the last move" if share <= 1.25 else "farther than the last move"  # noqa: PLR2004 - in words


def asked_whether_it_turns(adjuster: str, still_s: float) -> str:
    """Give what is added to a sentence where nothing has moved for a while; nothing before a person had time."""
    if still_s >= DOUBT_AFTER_S:
        return f" The reading does not change. Check that you are turning {adjuster} and that it is not stuck."
    return f" Are you turning {adjuster}? The reading has not changed yet." if still_s >= ASK_AFTER_S else ""


@dataclass(frozen=True, slots=True)
class NeedleScale:
    """What the needle's end stands for: 1, 2 or 5 times a power of ten. It goes up at once, and down with patience."""

    full_scale: float
    small_for: int = 0

    def after(self, size: float, floor: float) -> "NeedleScale":
        """Give the scale after a reading of that size; it never goes below the one that holds `floor`."""
        least = scale_for(floor)
        if size > UP_SHARE * self.full_scale or self.full_scale < least:
            return NeedleScale(scale_for(max(size / UP_SHARE, floor)))
        smaller = max(scale_for(0.4 * self.full_scale), least)
        if smaller >= self.full_scale or size > DOWN_SHARE * smaller:
            return NeedleScale(self.full_scale)
        if self.small_for + 1 >= DOWN_AFTER:
            return NeedleScale(smaller)
        return NeedleScale(self.full_scale, self.small_for + 1)


def scale_for(size: float) -> float:
    """Give the smallest of 1, 2 and 5 times a power of ten that is no less than a size above zero."""
    decade = 10.0 ** math.floor(math.log10(size))
    return next((step * decade for step in (1.0, 2.0, 5.0) if step * decade >= size * (1.0 - 1e-9)), 10.0 * decade)
