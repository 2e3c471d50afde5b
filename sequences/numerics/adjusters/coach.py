"""What to tell a person who turns an adjuster with an eye on the reading: what both kinds of gauge have in common.

`coach_error` guides to a target that is known, `coach_peak` to a maximum that is known only once it has been passed.
Both are folds: a reading and what was known before give what is known now, and nothing else is remembered. The figure
shown is always the latest reading; words and trend rest on medians and on the readings' own noise, so that neither
noise nor a single pop makes them waver.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from statistics import median

WINDOW = 16
"""Readings that are looked back on."""

LOOK_BACK = 8
"""Readings over which a trend is seen."""

CLEAR_SIGMAS = 4.0
"""Of the noise of one reading: a smaller change is none."""

HALF_OF_NORMAL, QUARTER_OF_NORMAL = 0.6745, 0.3186
"""A normal distribution's half, and quarter, lie within so many standard deviations of its middle."""

SCATTER_OVER = 8
"""Readings whose scatter is taken."""

QUIETEST = 1.5
"""The least of several scatters is less than the noise by about so much."""

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
    """One reading while an adjuster is turned.

    `value` is None where the meter overloads, gives no number or nothing is heard; `side` then says on which side of
    the target it surely is (+1 above, -1 below), 0 where nobody knows. `nudges`: how many equal nudges the person
    said to have made since the reading before.
    """

    value: float | None
    sigma: float = 0.0
    side: int = 0
    nudges: int = 0


STUCK_AFTER = 40
"""Readings without any movement after which it is said."""


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


@dataclass(frozen=True, slots=True)
class Noise:
    """The one-sigma noise of a reading: as stated, or as the readings scattered while the hand was stillest.

    A hand that turns by jerks scatters the readings as noise would, so it is the quietest stretch that counts.
    """

    stated: float = 0.0
    quietest: float | None = None

    @property
    def sigma(self) -> float:
        """Give the larger of the two."""
        return max(self.stated, self.quietest or 0.0)

    def after(self, readings: Sequence[LiveReading]) -> "Noise":
        """Give what is known after the latest readings with a value, in order."""
        stated = median([each.sigma for each in readings]) if readings else 0.0
        values = [each.value for each in readings if each.value is not None][-SCATTER_OVER:]
        if len(values) < SCATTER_OVER:
            return Noise(stated, self.quietest)
        scatter = QUIETEST * _scatter(values)
        return Noise(stated, scatter if self.quietest is None else min(scatter, self.quietest))


def _scatter(values: Sequence[float]) -> float:
    """Give the scatter beside what a hand does that turns evenly (no bend) or by jerks with rests (no step at rest)."""
    bends = sorted(abs(a - 2.0 * b + c) for a, b, c in zip(values, values[1:], values[2:], strict=False))
    steps = sorted(abs(b - a) for a, b in pairwise(values))
    even = median(bends) / (HALF_OF_NORMAL * math.sqrt(6.0))
    at_rest = steps[len(steps) // 4] / (QUARTER_OF_NORMAL * math.sqrt(2.0))
    return min(even, at_rest)


def smooth(values: Sequence[float], count: int) -> float:
    """Give the median of the latest `count` values, which a pop or two among them does not move."""
    return median(values[-count:])


def trend_of(distances: Sequence[float], clear: float) -> Trend:
    """Tell whether a distance shrinks or grows: by the latest change that is more than `clear`, over a few readings."""
    if len(distances) < 2:  # noqa: PLR2004 - one alone has no trend
        return Trend.UNKNOWN
    for earlier in reversed(distances[-1 - LOOK_BACK : -1]):
        change = distances[-1] - earlier
        if abs(change) > clear:
            return Trend.FARTHER if change > 0.0 else Trend.NEARER
    return Trend.STEADY


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
