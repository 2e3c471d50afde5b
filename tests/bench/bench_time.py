"""A run's clock on a practice bench whose time is stepped: waiting costs nothing, and the receiver still warms up."""

from collections.abc import Callable
from dataclasses import dataclass

from sequences.engine.instruments import Counter, Meter, MeterReply, Source
from tests.bench.practice import Practice


@dataclass
class BenchClock:
    """Waits are saved up and handed to the bench before an instrument is looked at."""

    bench: Practice
    waiting_s: float = 0.0
    bench_s: float = 0.0

    def now(self) -> float:
        """Give the bench's time, with what is still to be waited for."""
        return self.bench_s + self.waiting_s

    def sleep(self, duration_s: float) -> None:
        """Save it up."""
        self.waiting_s += duration_s

    def catch_up(self) -> None:
        """Let the bench wait for what was slept, and look at its time."""
        self.bench_s = float(self.bench.do(do="wait", seconds=self.waiting_s)["now_s"])
        self.waiting_s = 0.0


@dataclass
class CounterInTime:
    """A counter that is looked at when its time has come."""

    counter: Counter
    clock: BenchClock

    def read_frequency(self, gate_s: float) -> MeterReply:
        """Count, once the bench has come so far."""
        self.clock.catch_up()
        reply = self.counter.read_frequency(gate_s)
        self.clock.catch_up()
        return reply


@dataclass
class MeterInTime:
    """A meter that is looked at when its time has come."""

    meter: Meter
    clock: BenchClock

    def read_voltage(self, meanwhile: Callable[[], object] | None = None) -> MeterReply:
        """Read, once the bench has come so far."""
        self.clock.catch_up()
        reply = self.meter.read_voltage(meanwhile)
        self.clock.catch_up()
        return reply


@dataclass
class SourceInTime:
    """A source that is changed when its time has come, so that what was waited for passed with it as it was."""

    source: Source
    clock: BenchClock

    def set_frequency(self, frequency_hz: float) -> None:
        """Move, once the bench has come so far."""
        self.clock.catch_up()
        self.source.set_frequency(frequency_hz)

    def set_power(self, power_dbm: float) -> None:
        """Set the power, once the bench has come so far."""
        self.clock.catch_up()
        self.source.set_power(power_dbm)

    def set_output(self, on: bool) -> None:
        """Switch, once the bench has come so far."""
        self.clock.catch_up()
        self.source.set_output(on)

    def check_standing(self) -> None:
        """Ask at once."""
        self.source.check_standing()

    def make_safe(self) -> bool:
        """Switch off at once."""
        return self.source.make_safe()
