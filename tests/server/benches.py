"""Benches without a wire, and jobs to run on them."""

import math
import time
from collections.abc import Callable, Generator
from dataclasses import dataclass, field
from threading import Event as Flag
from typing import Any, ClassVar

from sequences.engine.events import Event
from sequences.engine.instruments import Bench, MeterReply
from sequences.engine.requests import Request
from sequences.engine.run import Clock, Limits, run
from sequences.engine.steps import read_meter, set_frequency, set_output, set_power
from sequences.errors import InstrumentFault
from server.bench.port import State
from server.bench.stop_bell import StopBell
from server.records.runs import NewRun
from tests.fakes import FakeSource

PATIENCE_S = 60.0
"""How long a test waits for another thread before it fails. Never how long it takes."""


def eventually(condition: Callable[[], object]) -> None:
    """Wait until something holds."""
    until_s = time.monotonic() + PATIENCE_S
    while not condition():
        assert time.monotonic() < until_s, "it never came about"
        time.sleep(0.005)


@dataclass
class FakeInstrument:
    """One role, as a bench tells of it."""

    role: str
    address: str
    identity: str | None
    state: State = "ready"
    detail: str | None = None


@dataclass
class GatedMeter:
    """Reads one volt each time the gate is opened; `waiting` says that a reading is under way."""

    gate: Flag = field(default_factory=Flag)
    waiting: Flag = field(default_factory=Flag)
    readings: int = 0
    dies_after: int | None = None

    def read_voltage(self, meanwhile: Callable[[], object] | None = None) -> MeterReply:  # noqa: ARG002 - done after it
        """Read, once the gate is open."""
        self.waiting.set()
        assert self.gate.wait(PATIENCE_S)
        if self.readings == self.dies_after:
            raise InstrumentFault("The meter at A is gone; look at its cable.")
        self.readings += 1
        return MeterReply(1.0)


@dataclass
class PassbandMeter:
    """Sees one circuit behind a linear detector: 1/sqrt(1 + (2 d/B)^2) V at detuning d and the highest power set."""

    source: FakeSource
    centre_hz: float
    width_hz: float
    reading_s: float = 0.0
    highest_dbm: float = -math.inf

    def read_voltage(self, meanwhile: Callable[[], object] | None = None) -> MeterReply:  # noqa: ARG002 - done after it
        """Read, in the time that takes."""
        time.sleep(self.reading_s)
        detuning = 2 * (self.source.frequency_hz - self.centre_hz) / self.width_hz
        self.highest_dbm = max(self.highest_dbm, self.source.power_dbm)
        size = 10 ** ((self.source.power_dbm - self.highest_dbm) / 20)
        return MeterReply(size / math.sqrt(1.0 + detuning**2) if self.source.output_on else 1e-6)


@dataclass
class OscillatorCounter:
    """Counts an oscillator that a test turns. `faults` are raised by the next readings, one by one."""

    frequency_hz: float = 84_889.0
    faults: list[Exception] = field(default_factory=list)
    reading_s: float = 0.0

    def read_frequency(self, gate_s: float) -> MeterReply:  # noqa: ARG002 - it is sure at once
        """Count."""
        time.sleep(self.reading_s)
        if self.faults:
            raise self.faults.pop(0)
        return MeterReply(self.frequency_hz)


@dataclass
class FakeBench:
    """A bench of fakes. `missing` roles answer only after a second look."""

    source: FakeSource = field(default_factory=FakeSource)
    meter: GatedMeter | PassbandMeter = field(default_factory=GatedMeter)
    counter: OscillatorCounter | None = None
    missing: set[str] = field(default_factory=set)
    found: set[str] | None = None
    closed: bool = False

    @property
    def gated(self) -> GatedMeter:
        """The meter, where the test holds its gate."""
        assert isinstance(self.meter, GatedMeter)
        return self.meter

    @property
    def bench(self) -> Bench:
        """What answers."""
        return Bench(
            source=None if "source" in self.missing else self.source,
            meter=None if "meter" in self.missing else self.meter,
            counter=None if "counter" in self.missing else self.counter,
        )

    @property
    def instruments(self) -> list[FakeInstrument]:
        """Every role it has."""
        roles = ("source", "meter") if self.counter is None else ("source", "meter", "counter")
        return [self._instrument(role) for role in roles]

    def reopen_missing(self) -> None:
        """Find everything, or what can be found."""
        self.missing -= self.missing if self.found is None else self.found

    def output_is_on(self) -> bool | None:
        """Ask the source."""
        return None if "source" in self.missing else self.source.output_on

    def make_safe(self) -> bool:
        """Switch the source off."""
        return "source" in self.missing or self.source.make_safe()

    def close(self) -> bool:
        """Let go."""
        self.closed = True
        return self.make_safe()

    def _instrument(self, role: str) -> FakeInstrument:
        if role in self.missing:
            return FakeInstrument(role, f"{role}-address", None, "missing", "nothing answers there")
        return FakeInstrument(role, f"{role}-address", f"Invented,{role},1,1.0")


def readings(count: int) -> Generator[Request, Any, int]:
    """Switch on and take so many readings."""
    yield from set_frequency(85e3)
    yield from set_power(-60.0)
    yield from set_output(True)
    for _ in range(count):
        yield from read_meter("scan")
    return count


@dataclass
class ReadingJob:
    """A job of so many readings. `before` may fail, as hands may."""

    count: int = 3
    before: Callable[[], None] = lambda: None
    figures: dict[str, Any] | None = None
    needs: ClassVar[tuple[str, ...]] = ("source", "meter")

    def describe(self, instruments: list[dict[str, Any]]) -> NewRun:
        """Enter the record."""
        return NewRun("bench", "target", "A target", "A receiver", {"count": self.count}, instruments)

    def carry_out(self, bench: Bench, *, emit: Callable[[Event], None], stop: StopBell, clock: Clock) -> dict[str, Any]:
        """Read."""
        self.before()
        limits = Limits(highest_power_dbm=0.0)
        count = run(readings(self.count), bench, emit=emit, stop=stop, clock=clock, limits=limits, name="readings")
        return self.figures or {"readings": count}
