"""Bring both ends of a dial onto their marks live: at each end its adjuster is turned with an eye on the dial error.

The source follows the receiver as its oscillator is turned. Where the hand is quicker than the source, the receiver is
looked for again, and the person told to wait.
"""

from collections.abc import Generator, Sequence
from dataclasses import replace
from typing import Any

from sequences.engine.events import GaugeKind
from sequences.engine.requests import Request
from sequences.errors import SequenceError
from sequences.numerics.adjusters.coach import LiveReading
from sequences.numerics.adjusters.coach_error import ErrorGoal
from sequences.numerics.adjusters.edge_balance import HopPoints, KnownCircuit, hop_points, read_edges
from sequences.numerics.dials.dial_ends import ENDS, End, own_moves_hz
from sequences.numerics.figures import Estimate
from sequences.numerics.wording import say_hz
from sequences.plan.content import Spot, WayName
from sequences.procedures.adjusting.live_adjusting import WORSE_ZONES, Brought, LiveEnd, bring_to_target, put_back
from sequences.procedures.adjusting.live_gauges import BeatError
from sequences.procedures.adjusting.turning import Hand
from sequences.procedures.dials.dial_ends import DialEnds, EndsSet, cannot_turn
from sequences.procedures.dials.dial_marks import DialReader, MarkError, dial_direction
from sequences.procedures.dials.find_receiver import Finder, edge_level
from sequences.procedures.oscillators.zero_beat import OFFSET_IN_WIDTHS
from sequences.procedures.sweeps.place import HZ_PER_KHZ

GOOD, HOLDS = 1.25, 2.0
"""Times the aim of counted turns: what fingers that feel for a mark come to, and what then counts as holding."""

MOST_ROUNDS = 4

MISSES = 3
"""Readings in a row without the receiver before it is looked for again."""

RECENTRE = 0.2
"""Of the window's width: the source follows a receiver that has moved by more."""


def set_ends_live(
    reader: DialReader, ends: DialEnds, hand: Hand, marks: Sequence[MarkError]
) -> Generator[Request, Any, EndsSet]:
    """Have the adjusters of both ends turned live until both hold, or one cannot be brought there.

    Args:
        reader: Reads a mark.
        ends: The two ends and their adjusters.
        hand: Keeps the account of turns.
        marks: What was read at the ends before.
    """
    return (yield from _Setting(reader, ends, hand, marks).carry_out())


class _Setting:
    """The errors at the two ends as they stand, read or reckoned."""

    def __init__(self, reader: DialReader, ends: DialEnds, hand: Hand, marks: Sequence[MarkError]) -> None:
        self.reader, self.ends, self.hand = reader, ends, hand
        self.error_hz = {
            end: mark.error_hz.value
            for end in ENDS
            for mark in marks
            if mark.spot == ends.spots[end] and mark.error_hz is not None
        }
        self.within_hz = GOOD * ends.goal.aim_hz
        self.fresh: set[End] = set()

    def carry_out(self) -> Generator[Request, Any, EndsSet]:
        for end in ENDS:
            if end not in self.error_hz:
                reason = yield from self._read(end)
                if reason is not None:
                    return EndsSet(None, reason)
        for _ in range(MOST_ROUNDS):
            for end in ENDS:
                ended = yield from self._visit(end)
                if ended is not None:
                    return ended
                if self._hold() and self.fresh == set(ENDS):
                    return EndsSet(None, None)
        return EndsSet(None, "The two ends do not hold together; look for a loose part, and turn them again.")

    def _visit(self, end: End) -> Generator[Request, Any, EndsSet | None]:
        """Go to an end; where it does not hold, turn its adjuster, allowing for what the other's turn will do here."""
        reason = yield from self._read(end)
        if reason is not None:
            return EndsSet(None, reason)
        if self._hold():
            return None
        moves = own_moves_hz(self.error_hz[End.LOW], self.error_hz[End.HIGH], self.ends.goal)
        small = {each: abs(moves[each]) <= self.within_hz for each in ENDS}
        if small[end] and (abs(self.error_hz[end]) <= self.within_hz or not small[end.other]):
            return None  # it is the other end's adjuster that is to be turned
        return (yield from self._turn(end, self.error_hz[end] + moves[end]))

    def _hold(self) -> bool:
        return all(abs(self.error_hz[end]) <= HOLDS * self.ends.goal.aim_hz for end in ENDS)

    def _turn(self, end: End, target_hz: float) -> Generator[Request, Any, EndsSet | None]:
        adjuster, spot = self.ends.goal.adjuster(end), self.ends.spots[end]
        goal = ErrorGoal(
            adjuster=adjuster.name,
            target=target_hz,
            within=self.within_hz,
            say=say_hz,
            clockwise=adjuster.sense,
            nudge_turns=adjuster.nudge_turns,
        )
        why = f"The {end} end, at {spot.dial_khz:g} kHz, is {say_hz(abs(self.error_hz[end]))} off."
        try:
            brought = yield from bring_to_target(goal, FollowedDial(self.reader, spot), self.hand, why)
        except SequenceError as error:
            return EndsSet(None, str(error))
        before_hz = self.error_hz[end]
        reason = yield from self._read(end)
        if reason is not None:
            return EndsSet(None, reason)
        yield from self._leave_no_worse(end, goal, brought, before_hz)
        self.fresh = {end}
        self.error_hz[end.other] += adjuster.elsewhere * (self.error_hz[end] - before_hz)
        if brought.end is LiveEnd.DONE:
            return None
        return cannot_turn(adjuster.name, end, moved=brought.moved)

    def _leave_no_worse(
        self, end: End, goal: ErrorGoal, brought: Brought, found_hz: float
    ) -> Generator[Request, Any, None]:
        """Ask for an adjuster back that cannot be brought home and stands farther off than it was found."""
        worse_hz = abs(self.error_hz[end] - goal.target) - abs(found_hz - goal.target)
        if brought.end is LiveEnd.DONE or not brought.moved or worse_hz <= WORSE_ZONES * goal.within:
            return
        as_found = replace(goal, target=found_hz)
        gauge = FollowedDial(self.reader, self.ends.spots[end])
        yield from put_back(as_found, gauge, self.hand, say_hz(worse_hz))
        yield from self._read(end)

    def _read(self, end: End) -> Generator[Request, Any, str | None]:
        mark = yield from self.reader.read(self.ends.spots[end])
        if mark.error_hz is None:
            return mark.reason
        self.error_hz[end] = mark.error_hz.value
        self.fresh.add(end)
        return None


class FollowedDial:
    """The dial error at the mark where the dial stands, in Hz, the source following the receiver."""

    kind = GaugeKind.BEAT
    unit = "Hz"

    def __init__(self, reader: DialReader, spot: Spot) -> None:
        self._reader = reader
        self._way = dial_direction(reader.task.step.spots, spot.band)
        self._nominal_hz = (spot.source_khz or 0.0) * HZ_PER_KHZ
        self._at_hz: float | None = self._nominal_hz + reader.off_hz
        self._misses = 0
        self._near: BeatError | _PassbandEdges | None = None
        if reader.task.way.name is not WayName.ZERO_BEAT:
            self.kind = GaugeKind.FREQUENCY

    def read(self) -> Generator[Request, Any, LiveReading]:
        """Take one look near where the receiver was last; look for it again where it is not there any more."""
        if self._at_hz is None:
            yield from self._look()
        if self._at_hz is None:
            return LiveReading(None)
        if self._near is None:
            self._near = self._gauge_at(self._at_hz)
        off = yield from self._near.read()
        if off.value is None:
            return self._missed()
        self._misses = 0
        error_hz = self._way * (self._at_hz + off.value - self._nominal_hz)
        if abs(off.value) > RECENTRE * self._reader.width_hz:
            self._at_hz, self._near = self._at_hz + off.value, None
        return LiveReading(error_hz, off.sigma)

    def _missed(self) -> LiveReading:
        self._misses += 1
        if self._misses >= MISSES:
            self._at_hz, self._near, self._misses = None, None, 0
        return LiveReading(None)

    def _look(self) -> Generator[Request, Any, None]:
        try:
            self._at_hz = yield from self._reader.look(self._nominal_hz)
        except SequenceError:
            return  # it may come back as the hand turns on
        self._reader.off_hz = self._at_hz - self._nominal_hz

    def _gauge_at(self, at_hz: float) -> "BeatError | _PassbandEdges":
        if self._reader.task.way.name is WayName.ZERO_BEAT:

            def off(zero: Estimate) -> Estimate:
                return Estimate(zero.value - at_hz, zero.sigma)

            return BeatError(at_hz, OFFSET_IN_WIDTHS * self._reader.width_hz, self._reader.settle_s, off)
        return _PassbandEdges(self._reader.finder, at_hz)


class _PassbandEdges:
    """How far the known passband is from a frequency, in Hz, by its two edges in turns."""

    def __init__(self, finder: Finder, at_hz: float) -> None:
        self._finder, self._at_hz = finder, at_hz
        self._circuit: KnownCircuit | None = None
        self._points: HopPoints | None = None
        known = finder.known
        if known is not None and known.centre is not None and known.width_3db is not None:
            self._circuit = KnownCircuit(known, known.centre.value, known.width_3db.value, at_hz)
            self._points = hop_points(self._circuit)
        self._levels: dict[float, Estimate] = {}
        self._upper_next = False

    def read(self) -> Generator[Request, Any, LiveReading]:
        """Look at one edge, the first time at both."""
        if self._circuit is None or self._points is None:
            return LiveReading(None)
        edges_hz = (self._points.lower_hz, self._points.upper_hz)
        for _ in range(1 if self._levels else 2):
            yield from self._look(edges_hz[int(self._upper_next)])
        if len(self._levels) < len(edges_hz):
            return LiveReading(None)
        found = read_edges(self._circuit, self._points, self._levels[edges_hz[0]], self._levels[edges_hz[1]])
        if found.detuning_hz is None:
            return LiveReading(None)
        return LiveReading(found.detuning_hz.value, found.detuning_hz.sigma)

    def _look(self, at_hz: float) -> Generator[Request, Any, None]:
        self._upper_next = not self._upper_next
        level = yield from edge_level(self._finder, at_hz)
        if level is None:
            self._levels.clear()
        else:
            self._levels[at_hz] = level
