"""What a hand does between its moves: readings at rest, averaged into one reading with a sigma of its own.

A hand moves, then waits. Readings that belong together by their noise are one pause; a jump ends it. A hand that turns
slowly and never waits is cut into pauses by time. Nothing counts readings: a meter may give one a second or thirty.
"""

import dataclasses
import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, median

KEPT = 12
"""Pauses that are looked back on."""

LOOK_BACK_S = 1.0
"""What is averaged of the pause that is on: its latest second."""

KEPT_S = 2.0
"""Readings of the pause that is on are kept so long."""

SHORTEST_S = 0.2
"""A rest that is shorter belongs to the movement."""

CUT_S = 0.75
"""A movement that lasts longer is cut: so often is a person who never waits told where they are."""

JUMP_SIGMAS = 5.0
"""Of the difference of two readings: more than noise makes in an hour."""

DRIFT_SIGMAS = 4.0
"""Of two means: more is a slow turn, which no single reading shows."""

QUICK_S = 0.35
"""Readings that come faster than this show a pop as what it is: the next one is back."""

SCATTER_OVER = 6
"""Readings in one rest whose scatter is taken for noise."""

HALF_OF_NORMAL = 0.6745
"""A normal distribution's half lies within so many standard deviations of its middle."""

NOISE_KEPT = 8


Reading = tuple[float, float]
"""When, in seconds, and what."""


@dataclass(frozen=True, slots=True)
class Pause:
    """One rest of the hand: the mean of its readings, that mean's one-sigma, and how long it has lasted."""

    value: float
    sigma: float
    seconds: float
    readings: int


@dataclass(frozen=True, slots=True)
class Pauses:
    """What the readings so far say of a hand's rests and moves.

    `closed`: the pauses that are over, the latest last. `at`: the readings of the one that is on, (time in s, value).
    `odd`: a reading that departs from it and may be a pop. `scatters`: single readings' noise in the latest rests.
    `stated`: the noise that is stated with the readings; `least`: a change that is none. `moved_s`: when it last moved;
    `began_s`, `closed_s`: when the pause that is on began, and the last one was over. `anchor`: its first part, by
    which a slow turn shows; `shown`: what is given of it.
    """

    closed: tuple[Pause, ...] = ()
    at: tuple[tuple[float, float], ...] = ()
    odd: tuple[float, float] | None = None
    scatters: tuple[float, ...] = ()
    stated: float = 0.0
    least: float = 0.0
    moved_s: float | None = None
    began_s: float = 0.0
    closed_s: float = 0.0
    anchor: Pause | None = None
    shown: Pause | None = None

    @property
    def noise(self) -> float:
        """Give one reading's one-sigma noise: as stated, or as readings at rest scattered where that is more."""
        return max(self.stated, median(self.scatters) if self.scatters else 0.0)

    @property
    def present(self) -> Pause:
        """Give the pause that is on, from its latest second.

        Raises:
            ValueError: nothing was read yet.
        """
        if self.shown is None:
            raise ValueError("No reading was taken yet, so that there is no pause.")
        return self.shown

    @property
    def latest(self) -> float:
        """Give the value of the latest pause, 0.0 where nothing was read."""
        return self.present.value if self.at else self.closed[-1].value if self.closed else 0.0

    @property
    def before(self) -> Pause | None:
        """Give the pause before the one that is on."""
        return self.closed[-1] if self.closed else None

    @property
    def still_s(self) -> float:
        """Give how long nothing has moved, in seconds."""
        return 0.0 if not self.at or self.moved_s is None else self.at[-1][0] - self.moved_s

    def after(self, value: float, at_s: float, sigma: float, least: float) -> "Pauses":
        """Give what is known after one more reading.

        Args:
            value: What was read.
            at_s: When, in seconds.
            sigma: Its stated one-sigma noise.
            least: A change that is none however steady the readings are.
        """
        now = _with(dataclasses.replace(self, stated=sigma, least=least), value, at_s)
        return dataclasses.replace(now, shown=_present(now))

    def interrupted(self) -> "Pauses":
        """Give what is known once the readings stopped for a while: the pause that was on is over."""
        if not self.at:
            return self
        return dataclasses.replace(self, closed=_closed(self), at=(), odd=None, anchor=None, shown=None)

    def clear(self, one: Pause, other: Pause) -> float:
        """Give how far two pauses must be apart to be so beyond noise."""
        return max(DRIFT_SIGMAS * math.hypot(one.sigma, other.sigma), self.least)


def _with(known: Pauses, value: float, at_s: float) -> Pauses:
    if not known.at:
        return dataclasses.replace(known, at=((at_s, value),), moved_s=at_s, began_s=at_s, closed_s=at_s)
    off = value - known.present.value
    if abs(off) <= max(JUMP_SIGMAS * math.hypot(known.noise, known.present.sigma), known.least):
        return _stayed(known, (at_s, value))
    quick = at_s - known.at[-1][0] < QUICK_S
    again = known.odd is not None and (known.odd[1] - known.present.value) * off > 0.0
    if quick and not again:
        return dataclasses.replace(known, odd=(at_s, value))
    return _moved(known, (at_s, value))


def _stayed(known: Pauses, reading: Reading) -> Pauses:
    """Take a reading into the pause that is on; where its latest part has left its first, the hand turns slowly."""
    at_s = reading[0]
    at = (*(each for each in known.at if at_s - each[0] <= KEPT_S), reading)
    stayed = dataclasses.replace(known, at=at, odd=None, scatters=_scatters(known, at))
    if stayed.anchor is None:
        ripe = at_s - stayed.began_s >= CUT_S / 2
        return dataclasses.replace(stayed, anchor=_mean(at, stayed.noise)) if ripe else stayed
    latest = tuple(each for each in at if at_s - each[0] < CUT_S / 2)
    mean = _mean(latest, stayed.noise)
    crept = abs(mean.value - stayed.anchor.value) > stayed.clear(mean, stayed.anchor)
    if at_s - stayed.began_s < CUT_S or not crept:
        return stayed
    from_s = latest[0][0]
    closed = (*known.closed, stayed.anchor)[-KEPT:]
    return dataclasses.replace(
        stayed, closed=closed, at=latest, anchor=None, moved_s=from_s, began_s=from_s, closed_s=from_s
    )


def _moved(known: Pauses, reading: Reading) -> Pauses:
    """The hand moved: what was on is over, unless it was no rest but part of the movement."""
    at_s = reading[0]
    # Where it moves on and on without a rest, it is cut by time.
    over = at_s - known.began_s >= SHORTEST_S or not known.closed or at_s - known.closed_s >= CUT_S
    at = (reading,) if known.odd is None else (known.odd, reading)
    if abs(at[0][1] - at[-1][1]) > max(JUMP_SIGMAS * known.noise * math.sqrt(2.0), known.least):
        at = (reading,)
    return dataclasses.replace(
        known,
        closed=_closed(known) if over else known.closed,
        at=at,
        odd=None,
        anchor=None,
        moved_s=at_s,
        began_s=at[0][0],
        closed_s=at_s if over else known.closed_s,
    )


def _closed(known: Pauses) -> tuple[Pause, ...]:
    return (*known.closed, known.present)[-KEPT:]


def _present(known: Pauses) -> Pause:
    latest_s = known.at[-1][0]
    latest = [each for each in known.at if latest_s - each[0] <= LOOK_BACK_S]
    return dataclasses.replace(_mean(latest, known.noise), seconds=latest_s - known.began_s)


def _mean(readings: Sequence[Reading], noise: float) -> Pause:
    seconds = readings[-1][0] - readings[0][0]
    return Pause(_middle([value for _, value in readings]), noise / math.sqrt(len(readings)), seconds, len(readings))


def _scatters(known: Pauses, at: Sequence[Reading]) -> tuple[float, ...]:
    """Take the scatter of a rest's latest readings, beside what creeps."""
    values = [value for _, value in at[-2 * SCATTER_OVER :]]
    if len(values) < SCATTER_OVER or len(values) % SCATTER_OVER:
        return known.scatters
    bends = [abs(a - 2.0 * b + c) for a, b, c in zip(values, values[1:], values[2:], strict=False)]
    scatter = median(bends) / (HALF_OF_NORMAL * math.sqrt(6.0))
    return (*known.scatters, scatter)[-NOISE_KEPT:]


def _middle(values: Sequence[float]) -> float:
    """Give the mean, of four and more without the least and the greatest: one pop moves nothing."""
    if len(values) < 4:  # noqa: PLR2004 - too few to leave any out
        return median(values) if len(values) == 3 else fmean(values)  # noqa: PLR2004 - of three the middle one
    return fmean(sorted(values)[1:-1])
