"""What is read while an adjuster is turned live: a count, a beat, the balance of two edges, a level, an activity.

Each reading is one look at one instrument, so that the needle follows the hand as fast as the bench allows. Where a
figure takes two looks, at two edges or two beats, they are taken in turns and each gives a new figure with the last of
the other.
"""

import math
from collections.abc import Callable, Generator
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from sequences.engine.events import GaugeKind
from sequences.engine.requests import Request
from sequences.engine.steps import count_frequency, read_meter, set_frequency, set_output, set_power, settle
from sequences.errors import SequenceError
from sequences.numerics.adjusters.coach import LiveReading
from sequences.numerics.adjusters.edge_balance import HopPoints, KnownCircuit, hop_points, read_edges
from sequences.numerics.figures import Estimate
from sequences.numerics.oscillators.counting import count_sigma_hz
from sequences.numerics.responses.passband import PassbandFit
from sequences.numerics.responses.stages import HeldResponse
from sequences.procedures.sweeps.held_output import LOWEST_DBM, HeldOutput

BEAT_GATE_S = 0.2
SHORTEST_GATE_S, LONGEST_GATE_S = 0.1, 1.0

GATE_ERROR = 0.25
"""Of the good zone: what a gate may leave of uncertainty, one sigma."""

SELF_CHECK = 0.15
"""Of the offset: by how much half the sum of two beats may miss it, since the hand moves between them."""

LAW_STEP_DB = 1.0
LAW_READINGS = 3
CLEAR_SIGMAS = 4.0

FOLLOW_DB = 0.5
"""The source follows a level that has moved by more, so that the meter stays where its law was learnt."""

LONGEST_FOLLOW_DB = 6.0

MOST_ABOVE_DB = 3.0
"""A level that rises faster than this between two readings is not believed further: the tangent overstates it."""

QUIETER_DB = 10.0

HOP_SETTLE = 0.6
"""Of the settling time: each edge has its own source level, so that the meter hardly moves from one to the other."""


@dataclass(frozen=True, slots=True)
class CountedError:
    """An oscillator counted by a pick-up: its error in Hz. The gate is as long as the good zone asks for."""

    nominal_hz: float
    within_hz: float
    kind: GaugeKind = GaugeKind.FREQUENCY
    unit: str = "Hz"

    @property
    def gate_s(self) -> float:
        """Give the gate: short where a direct counter's whole cycle still is fine enough."""
        return min(max(count_sigma_hz(0.0, 1.0) / (GATE_ERROR * self.within_hz), SHORTEST_GATE_S), LONGEST_GATE_S)

    def read(self) -> Generator[Request, Any, LiveReading]:
        """Count once."""
        reading = yield from count_frequency(self.gate_s, "live count")
        if reading.value is None:
            return LiveReading(None)
        sigma_hz = count_sigma_hz(reading.value, self.gate_s)
        return LiveReading(reading.value - self.nominal_hz, sigma_hz)


@dataclass(slots=True)
class BeatError:
    """The error by two offset beats, counted in turns; `error_of` makes it of the source's zero beat. In Hz."""

    nominal_hz: float
    offset_hz: float
    settle_s: float
    error_of: Callable[[Estimate], Estimate]
    kind: GaugeKind = GaugeKind.BEAT
    unit: str = "Hz"
    _beats: dict[int, float] = field(default_factory=dict)
    _side: int = -1

    def read(self) -> Generator[Request, Any, LiveReading]:
        """Count one beat, the first time both."""
        if not self._beats:
            yield from set_output(True)
            yield from self._count()
        yield from self._count()
        if len(self._beats) < 2:  # noqa: PLR2004 - one on either side
            return LiveReading(None)
        above_hz, below_hz = self._beats[1], self._beats[-1]
        half_sum_hz, off_hz = (below_hz + above_hz) / 2, (below_hz - above_hz) / 2
        beyond_hz = half_sum_hz - self.offset_hz
        if abs(off_hz) > (1.0 - SELF_CHECK) * self.offset_hz:
            # Farther off than the offset half the difference stays at the offset, and half the sum grows instead.
            off_hz = math.copysign(abs(off_hz) + beyond_hz, off_hz)
        elif abs(beyond_hz) > SELF_CHECK * self.offset_hz:
            return LiveReading(None)
        sigma_hz = count_sigma_hz(above_hz, BEAT_GATE_S) / math.sqrt(2.0)
        # A source that is above by the offset beats the lower, the higher the oscillator is.
        error = self.error_of(Estimate(self.nominal_hz + off_hz, sigma_hz))
        return LiveReading(error.value, error.sigma)

    def _count(self) -> Generator[Request, Any, None]:
        self._side = -self._side
        yield from set_frequency(self.nominal_hz + self._side * self.offset_hz)
        yield from settle(self.settle_s)
        reading = yield from count_frequency(BEAT_GATE_S, "live beat")
        if reading.value is None:
            self._beats.clear()
        else:
            self._beats[self._side] = reading.value


@dataclass(slots=True)
class _Edge:
    """How the source stands for one frequency: its power, and the level last read, in dB."""

    power_dbm: float
    level_db: float | None = None


class FollowedLevels:
    """Levels read at one look each: the source follows, so that the meter stays where its law's slope was learnt.

    The level is minus the source's power, plus what the meter is off the held voltage by, as its slope there has it.
    """

    def __init__(self, held: HeldOutput) -> None:
        self._held = held
        self._edges: dict[float, _Edge] = {}
        self._volts_per_db = 0.0
        self._stands: tuple[float, float] | None = None

    @property
    def sigma_db(self) -> float:
        """Give the one-sigma noise of one look."""
        return abs(self._held.level.volts_sigma / self._volts_per_db)

    def begin(self, frequencies_hz: tuple[float, ...]) -> Generator[Request, Any, None]:
        """Find the power that holds the output at each frequency, and at the first the meter's slope, in volts a dB.

        Raises:
            SequenceError: the output cannot be held there, or the meter does not follow the source.
        """
        yield from set_output(True)
        for frequency_hz in frequencies_hz:
            level = yield from self._held.read(frequency_hz, "live")
            self._edges[frequency_hz] = _Edge(-level.value, level.value)
        yield from self._learn_slope(frequencies_hz[0])

    def _learn_slope(self, frequency_hz: float) -> Generator[Request, Any, None]:
        power_dbm = self._edges[frequency_hz].power_dbm
        yield from set_frequency(frequency_hz)
        means: list[float] = []
        for step_db in (-LAW_STEP_DB, LAW_STEP_DB):
            yield from set_power(min(power_dbm + step_db, self._held.highest_dbm))
            yield from settle(self._held.settle_s)
            volts = []
            for _ in range(LAW_READINGS):
                reading = yield from read_meter("live")
                volts.append(math.nan if reading.value is None else reading.value)
            means.append(float(np.mean(volts)))
        rise_v = means[1] - means[0]
        spanned_db = min(power_dbm + LAW_STEP_DB, self._held.highest_dbm) - power_dbm + LAW_STEP_DB
        if not abs(rise_v) > CLEAR_SIGMAS * self._held.level.volts_sigma:
            raise SequenceError("The meter hardly follows the source here, so that no level can be watched live.")
        self._volts_per_db = rise_v / spanned_db

    def look(self, frequency_hz: float, settle_s: float) -> Generator[Request, Any, None]:
        """Take one look at a frequency; `level_db` then gives what it told."""
        edge = self._edges[frequency_hz]
        if self._stands != (frequency_hz, edge.power_dbm):
            yield from set_frequency(frequency_hz)
            yield from set_power(edge.power_dbm)
            yield from settle(settle_s)
            self._stands = (frequency_hz, edge.power_dbm)
        reading = yield from read_meter("live")
        if reading.value is None:
            edge.level_db = None
            edge.power_dbm = max(edge.power_dbm - QUIETER_DB, LOWEST_DBM)
        else:
            self._follow(edge, (reading.value - self._held.level.volts) / self._volts_per_db)

    def level_db(self, frequency_hz: float) -> float | None:
        """Give the level last read there; None where the meter gave none."""
        return self._edges[frequency_hz].level_db

    def _follow(self, edge: _Edge, off_db: float) -> None:
        edge.level_db = min(off_db, MOST_ABOVE_DB) - edge.power_dbm
        if abs(off_db) > FOLLOW_DB:
            by_db = min(max(off_db, -LONGEST_FOLLOW_DB), LONGEST_FOLLOW_DB)
            edge.power_dbm = min(max(edge.power_dbm - by_db, LOWEST_DBM), self._held.highest_dbm)


@dataclass(slots=True)
class WatchedLevel:
    """The level at one frequency, in dB, where the source stays."""

    levels: FollowedLevels
    frequency_hz: float
    settle_s: float
    kind: GaugeKind = GaugeKind.LEVEL
    unit: str = "dB"

    def read(self) -> Generator[Request, Any, LiveReading]:
        """Look once."""
        yield from self.levels.look(self.frequency_hz, self.settle_s)
        level_db = self.levels.level_db(self.frequency_hz)
        return LiveReading(level_db, self.levels.sigma_db)


@dataclass(slots=True)
class WatchedEdges:
    """The balance of a circuit's two edges: how far it is off its frequency, in Hz; the source hops between them."""

    levels: FollowedLevels
    circuit: KnownCircuit
    downstream: PassbandFit | None
    settle_s: float
    kind: GaugeKind = GaugeKind.EDGE_BALANCE
    unit: str = "Hz"
    _points: HopPoints = field(init=False)
    _upper_next: bool = False

    def __post_init__(self) -> None:
        """Choose the edges."""
        self._points = hop_points(self.circuit)

    @property
    def edges_hz(self) -> tuple[float, float]:
        """Give the two frequencies."""
        return self._points.lower_hz, self._points.upper_hz

    def read(self) -> Generator[Request, Any, LiveReading]:
        """Look at the edge whose turn it is, and balance it against the last look at the other."""
        points = self._points
        at_hz = points.upper_hz if self._upper_next else points.lower_hz
        self._upper_next = not self._upper_next
        yield from self.levels.look(at_hz, HOP_SETTLE * self.settle_s)
        lower_db, upper_db = self.levels.level_db(points.lower_hz), self.levels.level_db(points.upper_hz)
        if lower_db is None or upper_db is None:
            return LiveReading(None)
        behind = np.zeros(2)
        if self.downstream is not None:
            behind = HeldResponse(self.downstream).level_db(np.array([points.lower_hz, points.upper_hz]))
        sigma_db = self.levels.sigma_db
        found = read_edges(
            self.circuit,
            points,
            Estimate(lower_db - float(behind[0]), sigma_db),
            Estimate(upper_db - float(behind[1]), sigma_db),
        )
        if found.detuning_hz is None:
            return LiveReading(None, side=found.sense)
        return LiveReading(found.detuning_hz.value, found.detuning_hz.sigma)


@dataclass(slots=True)
class WatchedActivity:
    """How far an oscillator pulls its test point below zero, in volts: the more the stronger (common practice)."""

    sigma_v: float
    kind: GaugeKind = GaugeKind.ACTIVITY
    unit: str = "V"

    def read(self) -> Generator[Request, Any, LiveReading]:
        """Look once."""
        reading = yield from read_meter("live")
        return LiveReading(None if reading.value is None else -reading.value, self.sigma_v)
