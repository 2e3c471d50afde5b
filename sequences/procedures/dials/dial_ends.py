"""Bring both ends of a dial onto their marks: low end, high end, and again until both hold."""

import math
from collections.abc import Generator, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from sequences.alignment.outcome import Stuck, Task
from sequences.engine.requests import Request
from sequences.numerics.dials.dial_ends import (
    BothHold,
    End,
    EndAdjuster,
    EndReading,
    EndsGoal,
    EndsNotHeld,
    GoTo,
    effect_elsewhere,
    next_move,
    own_moves_hz,
    padded_effects_elsewhere,
)
from sequences.numerics.verdicts.verdict import Signs
from sequences.numerics.wording import say_hz
from sequences.plan.content import Spot, StepAdjuster
from sequences.procedures.adjusting.turning import Hand
from sequences.procedures.dials.dial_marks import MarkError
from sequences.procedures.sweeps.place import HZ_PER_KHZ
from sequences.receiver.chain import dial_setting, for_band, oscillator_khz
from sequences.receiver.model import SIGNAL, Conversion

AIM = 0.2
"""Of the limit: so near the two ends are brought, to leave room for the marks between them."""

EITHER_WAY = "Only the other way tells an adjuster at the end of its travel from one that is seized."

SENSE = {"raises": 1, "lowers": -1, "unknown": 0}


@dataclass(frozen=True, slots=True)
class DialEnds:
    """The two ends of a dial on one band, and the adjuster of each."""

    spots: dict[End, Spot]
    adjusters: dict[End, StepAdjuster]
    goal: EndsGoal


class ReadsMarks(Protocol):
    """What reads a mark. `set_to`: where the dial stands."""

    @property
    def set_to(self) -> Spot | None:
        """Say where the dial stands, None where it was not set yet."""

    def read(self, spot: Spot) -> Generator[Request, Any, MarkError]:
        """Have the dial set to a mark and find the receiver."""


@dataclass(frozen=True, slots=True)
class EndsSet:
    """What became of the two ends: signs of a bad part, and a sentence, where they were not brought home."""

    signs: Signs | None
    advice: str | None


def dial_ends(task: Task, band: str | None) -> DialEnds | None:
    """Say which adjuster rules which end of the dial; None where the receiver does not have one for each."""
    spots = sorted((spot for spot in task.step.spots if spot.band == band), key=lambda spot: spot.dial_khz or 0.0)
    at = {End.LOW: spots[0], End.HIGH: spots[-1]}
    adjusters: dict[End, StepAdjuster] = {}
    for end in End:
        mine = [each for each in task.step.adjusters if each.end == end and (not each.bands or band in each.bands)]
        if len(mine) != 1 or mine[0].measure_only:
            return None
        adjusters[end] = mine[0]
    elsewhere = _effects_elsewhere(task, at, adjusters)
    rises = _oscillator_rises_with_dial(task, band)
    low, high = (
        EndAdjuster(
            adjusters[end].name, adjusters[end].nudge_turns, rises * SENSE[adjusters[end].clockwise], elsewhere[end]
        )
        for end in (End.LOW, End.HIGH)
    )
    aim_hz = AIM * task.step.limits[0].most * HZ_PER_KHZ
    return DialEnds(at, adjusters, EndsGoal(low, high, aim_hz))


def set_ends(
    reader: ReadsMarks, ends: DialEnds, hand: Hand, marks: Sequence[MarkError]
) -> Generator[Request, Any, EndsSet]:
    """Turn the adjusters of both ends until both hold, or one cannot be brought there.

    Args:
        reader: Reads a mark.
        ends: The two ends and their adjusters.
        hand: Keeps the account of turns.
        marks: What was read at the ends before; the dial stands where it was set last.
    """
    return (yield from _Setting(reader, ends, hand, marks).carry_out())


class _Setting:
    """The readings at both ends so far; positions in turns from the start."""

    def __init__(self, reader: ReadsMarks, ends: DialEnds, hand: Hand, marks: Sequence[MarkError]) -> None:
        self.reader, self.ends, self.hand = reader, ends, hand
        self.turns = {End.LOW: 0.0, End.HIGH: 0.0}
        self.readings: list[EndReading] = []
        read_last = sorted(End, key=lambda end: ends.spots[end] == reader.set_to)
        for end in read_last:
            for mark in marks:
                if mark.spot == ends.spots[end]:
                    self._take(end, mark)

    def carry_out(self) -> Generator[Request, Any, EndsSet]:
        while True:
            move = next_move(self.ends.goal, self.readings)
            if isinstance(move, BothHold):
                return EndsSet(None, None)
            if isinstance(move, EndsNotHeld):
                return EndsSet(Signs(never_peaks=move.end is not None), move.doubt.text)
            if not isinstance(move, GoTo):
                name = self.ends.adjusters[move.end].name
                if not (yield from self.hand.turn(name, move.turns, move.text)):
                    return (yield from self._stopped(move.end, move.turns))
                self.turns[move.end] += move.turns
            mark = yield from self.reader.read(self.ends.spots[move.end])
            if mark.error_hz is None:
                return EndsSet(None, mark.reason)
            self._take(move.end, mark)

    def _take(self, end: End, mark: MarkError) -> None:
        if mark.error_hz is not None:
            self.readings.append(
                EndReading(end, self.turns[End.LOW], self.turns[End.HIGH], mark.error_hz.value, mark.error_hz.sigma)
            )

    def _stopped(self, end: End, wanted_turns: float) -> Generator[Request, Any, EndsSet]:
        """Say what an adjuster that would not go on points to; one that never moved is tried the other way first."""
        adjuster = self.ends.adjusters[end]
        moved = bool(self.turns[end])
        if not moved:
            back = -math.copysign(adjuster.nudge_turns, wanted_turns)
            moved = yield from self.hand.turn(adjuster.name, back, EITHER_WAY)
            if moved:
                yield from self.hand.turn(adjuster.name, -back, "It is not seized: put it back.")
                self.hand.found(adjuster.name, Stuck.END_OF_TRAVEL)
        return cannot_turn(adjuster.name, end, moved=moved)


def cannot_turn(name: str, end: End, *, moved: bool) -> EndsSet:
    """Say what an adjuster that cannot be turned points to; `moved`: it could be before."""
    if moved:
        text = (
            f"{name} is at the end of its travel and the {end} end of the dial is still off: suspect the "
            "oscillator's fixed capacitor before its coil."
        )
        return EndsSet(Signs(out_of_travel=True), text)
    text = f"{name} cannot be turned: free it without force, or suspect a broken core or shaft."
    return EndsSet(Signs(seized=True), text)


def ends_advice(ends: DialEnds, low_error_hz: float, high_error_hz: float) -> tuple[str, ...]:
    """Say how far each adjuster must move its own end, the other's effect there allowed for, and which way to turn."""
    moves = own_moves_hz(low_error_hz, high_error_hz, ends.goal)
    sentences = []
    for end, move_hz in moves.items():
        adjuster = ends.goal.adjuster(end)
        way = {0: "", 1: "clockwise ", -1: "anticlockwise "}[int((move_hz > 0) - (move_hz < 0)) * adjuster.sense]
        moved = "raised" if move_hz > 0 else "lowered"
        at = f"the {end} end, at {ends.spots[end].dial_khz:g} kHz,"
        sentences.append(f"Turn {adjuster.name} {way}until it has {moved} {at} by {say_hz(abs(move_hz))}.")
    return tuple(sentences)


def _conversion(task: Task) -> Conversion:
    return task.receiver.conversions[task.step.subject.removeprefix("conversion.")]


def _oscillator_rises_with_dial(task: Task, band: str | None) -> int:
    entry = _conversion(task)
    if entry.oscillator_range_khz is None:
        return 0
    low_khz, high_khz = for_band(entry.oscillator_range_khz, band or next(iter(task.receiver.bands)))
    return 1 if high_khz > low_khz else -1


def _effects_elsewhere(task: Task, at: dict[End, Spot], adjusters: dict[End, StepAdjuster]) -> dict[End, float]:
    entry, receiver = _conversion(task), task.receiver
    kinds = {end: adjusters[end].kind for end in End}
    given_khz = receiver.ifs[entry.gives].centre_khz
    if "padder" in kinds.values() and entry.takes == SIGNAL and entry.side == "high" and given_khz is not None:
        low_hz, high_hz = ((at[end].source_khz or 0.0) * HZ_PER_KHZ for end in (End.LOW, End.HIGH))
        return padded_effects_elsewhere(kinds, low_hz, high_hz, given_khz * HZ_PER_KHZ)
    if entry.oscillator_range_khz is None:
        return dict.fromkeys(End, 0.5)
    oscillator_hz = {end: _oscillator_hz(task, entry, at[end]) for end in End}
    return {end: effect_elsewhere(kinds[end], oscillator_hz[end], oscillator_hz[end.other]) for end in End}


def _oscillator_hz(task: Task, entry: Conversion, spot: Spot) -> float:
    band = spot.band or next(iter(task.receiver.bands))
    return oscillator_khz(entry, dial_setting(task.receiver, band, spot.dial_khz or 0.0)) * HZ_PER_KHZ
