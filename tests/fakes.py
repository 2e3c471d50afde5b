"""Hand-written stand-ins that tests share: a clock that only moves when slept on, and instruments with a memory."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

from sequences.engine.events import Event
from sequences.engine.instruments import MeterReply


@dataclass
class FakeClock:
    """Time moves by sleeping, and by `reading_s` at each look where a test wants readings to take time."""

    time_s: float = 100.0
    slept_s: float = 0.0

    def now(self) -> float:
        """Seconds."""
        return self.time_s

    def sleep(self, duration_s: float) -> None:
        """Move on."""
        self.time_s += duration_s
        self.slept_s += duration_s


@dataclass
class FakeSource:
    """Remembers everything it was told. `fault` is raised by the next set_frequency."""

    calls: list[tuple[str, float | bool | None]] = field(default_factory=list)
    frequency_hz: float = 0.0
    power_dbm: float = -140.0
    output_on: bool = False
    confirms: bool = True
    changed: Exception | None = None
    faults: Iterator[Exception | None] = field(default_factory=lambda: iter(()))

    def set_frequency(self, frequency_hz: float) -> None:
        """Move."""
        fault = next(self.faults, None)
        if fault is not None:
            raise fault
        self.calls.append(("frequency", frequency_hz))
        self.frequency_hz = frequency_hz

    def set_power(self, power_dbm: float) -> None:
        """Set the power."""
        self.calls.append(("power", power_dbm))
        self.power_dbm = power_dbm

    def set_output(self, on: bool) -> None:
        """Switch."""
        self.calls.append(("output", on))
        self.output_on = on

    def check_standing(self) -> None:
        """Stand as it was set, or as `changed` says that somebody else has it."""
        if self.changed is not None:
            raise self.changed

    def make_safe(self) -> bool:
        """Switch off."""
        self.calls.append(("safe", None))
        self.output_on = False
        return self.confirms


@dataclass
class FakeMeter:
    """Reads what a function of the source's settings says."""

    source: FakeSource
    reply: Callable[[FakeSource], MeterReply]
    readings: int = 0

    def read_voltage(self, meanwhile: Callable[[], object] | None = None) -> MeterReply:  # noqa: ARG002 - done after it
        """Read."""
        self.readings += 1
        return self.reply(self.source)


@dataclass
class StopAfter:
    """A stop flag that is set once it has been looked at so many times."""

    looks: int = 1_000_000_000

    def is_set(self) -> bool:
        """Look."""
        self.looks -= 1
        return self.looks < 0


@dataclass
class Sink:
    """Keeps the events of a run, and passes them on where there is someone else."""

    events: list[Event] = field(default_factory=list)
    onward: Callable[[Event], None] | None = None

    def __call__(self, event: Event) -> None:
        """Take one."""
        self.events.append(event)
        if self.onward is not None:
            self.onward(event)

    def of(self, kind: type) -> list[Event]:
        """Give those of one kind, in order."""
        return [event for event in self.events if isinstance(event, kind)]
