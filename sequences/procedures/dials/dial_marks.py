"""Measure where a receiver really is with its dial at each mark: the error table of a dial."""

from collections.abc import Generator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from sequences.alignment.outcome import Phase, Task
from sequences.engine.asks import connect
from sequences.engine.questions import SetControl
from sequences.engine.requests import Request, asking
from sequences.engine.steps import ask, set_output, set_power
from sequences.errors import SequenceError
from sequences.numerics.figures import Estimate
from sequences.numerics.wording import say_hz
from sequences.plan.content import Spot, WayName
from sequences.procedures.dials.find_receiver import Finder, Whereabouts, find_again, find_first, passband_centre
from sequences.procedures.oscillators.zero_beat import zero_beat
from sequences.procedures.sweeps.place import HZ_PER_KHZ, place_of
from sequences.receiver.windows import window_of

REACH_IN_WIDTHS = 12.0
REACH_IN_LIMITS = 10.0
"""How far off its mark the receiver is looked for, in widths of its window or in limits of the step."""

NEAR_IN_WIDTHS = 4.0
"""How far from where the last mark put it the receiver is looked for first."""

REPEAT_TO_MIND = 0.25
"""Of the limit: two settings of one mark that differ by more deserve a doubt."""


@dataclass(frozen=True, slots=True)
class MarkError:
    """The dial error at a mark in Hz, positive where the receiver is higher than the dial says; or why none."""

    spot: Spot
    error_hz: Estimate | None
    reason: str | None = None

    @property
    def mark_khz(self) -> float:
        """What the dial says."""
        return self.spot.dial_khz or 0.0


@dataclass(frozen=True, slots=True)
class ErrorTable:
    """The errors at all marks. `repeat_hz`: how far the first mark, set once more, came out from the first time."""

    marks: tuple[MarkError, ...]
    repeat_hz: float | None

    @property
    def known(self) -> tuple[MarkError, ...]:
        """Give the marks at which the receiver was found."""
        return tuple(mark for mark in self.marks if mark.error_hz is not None)


@dataclass(frozen=True, slots=True)
class _AsRead:
    """A table, how the receiver was found, how far off it was last, and the mark that the dial stands on."""

    table: ErrorTable
    finder: Finder
    off_hz: float
    set_to: Spot


class DialReader:
    """Reads marks with one hookup; remembers how far off the last one was, for the next will be much the same."""

    def __init__(self, task: Task) -> None:
        self.task = task
        self._place = place_of(task.receiver, task.way.hookup)
        self.width_hz = window_width_hz(task)
        self._finder: Finder | None = None
        self.off_hz = 0.0
        self.set_to: Spot | None = None

    @property
    def settle_s(self) -> float:
        """Give how long the meter takes to settle at this hookup."""
        return self._place.settle_s

    @property
    def finder(self) -> Finder:
        """Give what was learnt when the receiver was found first.

        Raises:
            SequenceError: it was never found.
        """
        if self._finder is None:
            raise SequenceError("The receiver was not found.")
        return self._finder

    def connect(self) -> Generator[Request, Any, None]:
        """Have the leads put where they belong, and the controls."""
        yield from connect(self.task.way.hookup, self.task.way.cautions)

    def read_table_or_take(self) -> Generator[Request, Any, ErrorTable]:
        """Take up the table that the run before left, where the mark that the dial stands on reads the same still."""
        before = None if self.task.phase is Phase.AS_FOUND else self.task.kept.take_figures(self._key, _AsRead)
        if before is not None and (yield from self._still_stands(before)):
            return before.table
        return (yield from self.read_table())

    def keep(self, table: ErrorTable) -> None:
        """Leave a table for the next run: the dial stands on its first mark, as it was read last."""
        if self._finder is not None and self.set_to is not None and len(table.known) == len(table.marks):
            self.task.kept.keep_figures(self._key, _AsRead(table, self._finder, self.off_hz, self.set_to))

    @property
    def _key(self) -> tuple[str, str]:
        return self.task.step.id, self.task.way.name

    def _still_stands(self, before: "_AsRead") -> Generator[Request, Any, bool]:
        """Look at the mark where the dial stands, with what the run before learnt of the window."""
        self._finder, self.off_hz = before.finder, before.off_hz
        yield from set_power(before.finder.level.power_dbm)
        yield from set_output(True)
        now = yield from self.read(before.set_to)
        self._finder = self._finder if now.error_hz is not None else None
        moved_hz = abs(self.off_hz - before.off_hz)
        return now.error_hz is not None and moved_hz <= REPEAT_TO_MIND * self.task.step.limits[0].most * HZ_PER_KHZ

    def read_table(self) -> Generator[Request, Any, ErrorTable]:
        """Read every mark, and the first once more: by that the dial's own repeatability shows."""
        spots = self.task.step.spots
        marks = []
        for spot in spots:
            mark = yield from self.read(spot)
            marks.append(mark)
        again = yield from self.read(spots[0])
        return _with_repeat(marks, again)

    def read(self, spot: Spot) -> Generator[Request, Any, MarkError]:
        """Have the dial set to a mark and find the receiver. A failure is an answer too."""
        yield from set_dial(self.task, spot)
        self.set_to = spot
        nominal_hz = (spot.source_khz or 0.0) * HZ_PER_KHZ
        try:
            found = yield from self._find(nominal_hz)
        except SequenceError as error:
            return MarkError(spot, None, str(error))
        self.off_hz = found.value - nominal_hz
        way = dial_direction(self.task.step.spots, spot.band)
        return MarkError(spot, Estimate(way * self.off_hz, found.sigma))

    def _find(self, nominal_hz: float) -> Generator[Request, Any, Estimate]:
        seen_hz = yield from self.look(nominal_hz)
        if self.task.way.name is WayName.ZERO_BEAT:
            return (yield from zero_beat(seen_hz, self.width_hz, self._place.settle_s))
        return (yield from passband_centre(self.finder, seen_hz, self.width_hz))

    def look(self, nominal_hz: float) -> Generator[Request, Any, float]:
        """Look for the receiver, first about where it was off to last; give where its window's top is seen, in Hz.

        Raises:
            SequenceError: nothing moves the meter within the reach.
        """
        wide = Whereabouts(nominal_hz, self._reach_hz(), self.width_hz)
        if self._finder is None:
            self._finder, seen_hz = yield from find_first(self._place, wide)
            return seen_hz
        near = Whereabouts(nominal_hz + self.off_hz, NEAR_IN_WIDTHS * self.width_hz, self.width_hz)
        try:
            return (yield from find_again(self._finder, near))
        except SequenceError:
            return (yield from find_again(self._finder, wide))

    def _reach_hz(self) -> float:
        limit_hz = self.task.step.limits[0].most * HZ_PER_KHZ
        return max(REACH_IN_WIDTHS * self.width_hz, REACH_IN_LIMITS * limit_hz)


def window_width_hz(task: Task) -> float:
    """Give the 3 dB width of the window the receiver is found by, as the hookup's controls set it."""
    receiver = task.receiver
    widths = []
    for entry in receiver.ifs.values():
        if entry.centre_khz is None:
            continue
        if isinstance(entry.width_khz, float):
            widths.append(entry.width_khz)
        else:
            widths.append(entry.width_khz[str(task.way.hookup.controls[entry.width_control or ""])])
    return min(widths, default=window_of(receiver, "preselector").width_khz) * HZ_PER_KHZ


def set_dial(task: Task, spot: Spot) -> Generator[Request, Any, None]:
    """Have band and dial set, the dial always from the same side, so that slack in its drive counts alike."""
    receiver = task.receiver
    if receiver.band_control and spot.band is not None and len({each.band for each in task.step.spots}) > 1:
        yield from ask(asking(SetControl(receiver.band_control, spot.band), f"Set the band to {spot.band}."))
    control = receiver.dial.control
    text = f"Set {control} exactly to {spot.dial_khz:g} kHz, the last of the turn always upwards."
    yield from ask(asking(SetControl(control, spot.dial_khz or 0.0), text))


def dial_direction(spots: Sequence[Spot], band: str | None) -> float:
    """Say whether the source's frequency rises with the dial on a band, +1, or falls, -1."""
    here = [spot for spot in spots if spot.band == band and spot.source_khz is not None]
    dial, source = (
        np.array([getattr(spot, name) for spot in here], dtype=float) for name in ("dial_khz", "source_khz")
    )
    return float(np.sign(np.polyfit(dial, source, 1)[0]))


def _with_repeat(marks: Sequence[MarkError], again: MarkError) -> ErrorTable:
    """Let what two settings of one mark differ by widen every error: the person sets each of them so."""
    first = marks[0].error_hz
    if first is None or again.error_hz is None:
        return ErrorTable(tuple(marks), None)
    repeat_hz = again.error_hz.value - first.value
    setting_hz = abs(repeat_hz) / 2**0.5
    widened = [
        mark
        if mark.error_hz is None
        else MarkError(mark.spot, Estimate(mark.error_hz.value, float(np.hypot(mark.error_hz.sigma, setting_hz))))
        for mark in marks
    ]
    return ErrorTable(tuple(widened), repeat_hz)


def repeat_doubts(table: ErrorTable, limit_hz: float) -> tuple[str, ...]:
    """Say where one mark set twice did not come out alike."""
    if table.repeat_hz is None or abs(table.repeat_hz) <= REPEAT_TO_MIND * limit_hz:
        return ()
    way = "higher" if table.repeat_hz > 0 else "lower"
    text = (
        f"The first mark, set again at the end, came out {say_hz(abs(table.repeat_hz))} {way}: the dial has slack, was "
        "set by eye only roughly, or the receiver still drifts."
    )
    return (text,)
