"""Where drivers meet the job: the only module that imports both.

Drivers are fitted to the roles that sequences ask for, and their errors become the job's own.
"""

from collections.abc import Callable, Generator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from threading import Lock

from drivers.counters import Counter as CounterDriver
from drivers.counters import open_counter
from drivers.discovery import discover
from drivers.errors import (
    DriverError,
    LinkLostError,
    NotANumberError,
    OverloadError,
    ReplyError,
    ReplyTimeoutError,
)
from drivers.meters import Meter as MeterDriver
from drivers.meters import open_meter
from drivers.sources import Source as SourceDriver
from drivers.sources import open_source
from sequences.engine.instruments import Bench, Mark, MeterReply
from sequences.errors import InstrumentFault, ReplyLost
from server.bench.file import BenchFile
from server.bench.port import State

Driver = SourceDriver | MeterDriver | CounterDriver


@contextmanager
def _job_errors() -> Generator[None]:
    """Turn the wire's errors into the job's: those after which asking again may help, and the others."""
    try:
        yield
    except (ReplyTimeoutError, ReplyError, LinkLostError) as error:
        raise ReplyLost(str(error)) from error
    except DriverError as error:
        raise InstrumentFault(str(error)) from error


class _Source:
    def __init__(self, driver: SourceDriver) -> None:
        self._driver = driver

    def set_frequency(self, frequency_hz: float) -> None:
        with _job_errors():
            self._driver.set_frequency(frequency_hz)

    def set_power(self, power_dbm: float) -> None:
        with _job_errors():
            self._driver.set_power(power_dbm)

    def set_output(self, on: bool) -> None:
        with _job_errors():
            self._driver.set_output(on)

    def make_safe(self) -> bool:
        return self._driver.make_safe().confirmed


class _Meter:
    def __init__(self, driver: MeterDriver) -> None:
        self._driver = driver

    def read_voltage(self) -> MeterReply:
        return _reply(self._driver.read_voltage)


class _Counter:
    def __init__(self, driver: CounterDriver) -> None:
        self._driver = driver

    def read_frequency(self, gate_s: float) -> MeterReply:
        return _reply(lambda: self._driver.read_frequency(gate_s))


def _reply(read: Callable[[], float]) -> MeterReply:
    try:
        with _job_errors():
            return MeterReply(read())
    except InstrumentFault as fault:
        if isinstance(fault.__cause__, OverloadError):
            return MeterReply(None, Mark.OVERLOAD)
        if isinstance(fault.__cause__, NotANumberError):
            return MeterReply(None, Mark.NOT_A_NUMBER)
        raise


@dataclass(frozen=True, slots=True)
class InstrumentCard:
    """One role of the bench file: its instrument, or why there is none."""

    role: str
    address: str
    identity: str | None
    state: State
    detail: str | None


class OpenBench:
    """The instruments of a bench file, opened as far as they answered."""

    def __init__(self, openers: dict[str, tuple[str, Callable[[], Driver]]]) -> None:
        self._openers = openers
        self._drivers: dict[str, Driver] = {}
        self._problems: dict[str, str] = {}
        self._closing = Lock()
        self.reopen_missing()

    @property
    def bench(self) -> Bench:
        """The instruments by role, as a run sees them."""
        source, meter, counter = (self._drivers.get(role) for role in ("source", "meter", "counter"))
        return Bench(
            source=_Source(source) if isinstance(source, SourceDriver) else None,
            meter=_Meter(meter) if isinstance(meter, MeterDriver) else None,
            counter=_Counter(counter) if isinstance(counter, CounterDriver) else None,
        )

    @property
    def instruments(self) -> Sequence[InstrumentCard]:
        """Every role that the bench file names, whether it answered or not."""
        return tuple(self._card(role, address) for role, (address, _) in self._openers.items())

    def _card(self, role: str, address: str) -> InstrumentCard:
        driver = self._drivers.get(role)
        if driver is None:
            return InstrumentCard(role, address, None, "missing", self._problems.get(role))
        detail = driver.last_error if driver.state == "lost" else None
        return InstrumentCard(role, address, str(driver.identity), driver.state, detail)

    def reopen_missing(self) -> None:
        """Look again for what is missing, and for what was lost: a lost link opens afresh, checked from the start."""
        for role, (_, opener) in self._openers.items():
            driver = self._drivers.get(role)
            if driver is not None and driver.state == "lost":
                driver.close()
                del self._drivers[role]
            if role not in self._drivers:
                self._open(role, opener)

    def _open(self, role: str, opener: Callable[[], Driver]) -> None:
        try:
            self._drivers[role] = opener()
            self._problems.pop(role, None)
        except DriverError as error:
            self._problems[role] = str(error)

    def make_safe(self) -> bool:
        """Switch the source's output off, and say whether it confirmed. True where there is no source to be on."""
        source = self._drivers.get("source")
        return source.make_safe().confirmed if isinstance(source, SourceDriver) else True

    def close(self) -> None:
        """Make safe and let go of every link; the source first. May be called twice."""
        with self._closing:
            for role in ("source", "meter", "counter"):
                driver = self._drivers.pop(role, None)
                if driver is not None:
                    driver.close()


def open_bench(bench_file: BenchFile) -> OpenBench:
    """Open the instruments of a bench file. One that does not answer is missing, with the reason on its card."""
    openers: dict[str, tuple[str, Callable[[], Driver]]] = {}
    if (source := bench_file.source) is not None:
        ceiling_dbm = source.ceiling_dbm
        openers["source"] = (source.address, lambda: open_source(source.address, ceiling_dbm=ceiling_dbm))
    if (meter := bench_file.meter) is not None:
        openers["meter"] = (meter.address, lambda: open_meter(meter.address, function=meter.function))
    if (counter := bench_file.counter) is not None:
        openers["counter"] = (counter.address, lambda: open_counter(counter.address))
    return OpenBench(openers)


@dataclass(frozen=True, slots=True)
class FoundInstrument:
    """What answered at one address: who it says it is and the roles it is known for, or why it cannot be used."""

    address: str
    identity: str | None
    roles: tuple[str, ...]
    detail: str | None


def find_instruments(addresses: Sequence[str] = ()) -> tuple[FoundInstrument, ...]:
    """Look for instruments on this machine's buses and networks, and at the given addresses."""
    return tuple(
        FoundInstrument(found.address, str(found.identity) if found.identity else None, found.roles, found.problem)
        for found in discover(addresses)
    )
