"""Where drivers meet the job: the only module that imports both.

Drivers are fitted to the roles that sequences ask for, and their errors become the job's own.
"""

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import count
from pathlib import Path
from threading import Lock
from types import TracebackType
from typing import TypedDict

from platformdirs import user_data_path

from drivers.counters import Counter as CounterDriver
from drivers.counters import open_counter
from drivers.dialect import DialectError, Model
from drivers.dialect_files import known_models, write_dialect
from drivers.discovery import discover
from drivers.errors import (
    DriverError,
    LinkLostError,
    NotANumberError,
    NotConnectedError,
    OverloadError,
    ReplyError,
    ReplyTimeoutError,
)
from drivers.meters import Meter as MeterDriver
from drivers.meters import open_meter
from drivers.opening import VisaMissingError
from drivers.ownership import stand_in_for_owners as stand_in_for_owners  # noqa: PLC0414 - the guardian's
from drivers.sound.errors import SoundError
from drivers.sound.inputs import open_sound_input
from drivers.sound.recording import Recording
from drivers.sound.recording import SoundInput as SoundInputDriver
from drivers.sources import Source as SourceDriver
from drivers.sources import open_source
from drivers.trace import WIRE_TRACE
from drivers.transport import VISA
from drivers.trial import try_role
from sequences.engine.instruments import Bench, Counter, Mark, Meter, MeterReply
from sequences.errors import InstrumentFault, LinkAway, ReplyLost
from server.bench.file import BY_HAND, BenchFile, CounterEntry, InstrumentEntry, MeterEntry, SourceEntry
from server.bench.port import State
from server.by_hand.instruments import (
    Ask,
    CounterAfterSetting,
    Hand,
    MeterAfterSetting,
    PersonCounter,
    PersonMeter,
    PersonSource,
)
from server.errors import OrderRefused, SoundInputError
from server.sound.roles import TONE_SPAN_HZ, SoundCounter, SoundMeter, input_name, is_sound

Driver = (
    SourceDriver | MeterDriver | CounterDriver | PersonSource | PersonMeter | PersonCounter | SoundMeter | SoundCounter
)

BELIEVED_S = 1.0
"""How long the source is believed to stand as it was left while only readings are taken."""


class _JobErrors:
    """Turns the wire's errors into the job's: those after which asking again may help, and the others.

    One for all: it stands around each exchange, where a generator made anew each time could be felt.
    """

    def __enter__(self) -> None:
        pass

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if isinstance(error, DriverError):
            raise _job_error(error) from error


def _job_error(error: DriverError) -> InstrumentFault:
    if isinstance(error, NotConnectedError):
        return LinkAway(str(error), error.retry_s)
    if isinstance(error, (ReplyTimeoutError, ReplyError, LinkLostError)):
        return ReplyLost(str(error))
    return InstrumentFault(str(error))


_JOB_ERRORS = _JobErrors()


class _Source:
    def __init__(self, driver: SourceDriver) -> None:
        self._driver = driver

    def set_frequency(self, frequency_hz: float) -> None:
        with _JOB_ERRORS:
            self._driver.set_frequency(frequency_hz)

    def set_power(self, power_dbm: float) -> None:
        with _JOB_ERRORS:
            self._driver.set_power(power_dbm)

    def set_output(self, on: bool) -> None:
        with _JOB_ERRORS:
            self._driver.set_output(on)

    def check_standing(self) -> None:
        with _JOB_ERRORS:
            self._driver.check_standing()

    def make_safe(self) -> bool:
        return self._driver.make_safe().confirmed


def _watching(source: SourceDriver | None, read: Callable[[], float]) -> float:
    """Take a reading, and make sure that the source still stands as it was left: it may be switched at its panel."""
    value = read()
    if source is not None:
        source.check_standing(BELIEVED_S)
    return value


class _Meter:
    def __init__(self, driver: MeterDriver, source: SourceDriver | None) -> None:
        self._driver = driver
        self._source = source

    def read_voltage(self, meanwhile: Callable[[], object] | None = None) -> MeterReply:
        return _reply(lambda: _watching(self._source, lambda: self._driver.read_voltage(meanwhile)))


class _Counter:
    def __init__(self, driver: CounterDriver, source: SourceDriver | None) -> None:
        self._driver = driver
        self._source = source

    def read_frequency(self, gate_s: float) -> MeterReply:
        return _reply(lambda: _watching(self._source, lambda: self._driver.read_frequency(gate_s)))


def _reply(read: Callable[[], float]) -> MeterReply:
    try:
        with _JOB_ERRORS:
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


def _meter_role(meter: Driver | None, source: SourceDriver | None) -> Meter | None:
    if isinstance(meter, MeterDriver):
        return _Meter(meter, source)
    return meter if isinstance(meter, PersonMeter | SoundMeter) else None


def _counter_role(counter: Driver | None, source: SourceDriver | None) -> Counter | None:
    if isinstance(counter, CounterDriver):
        return _Counter(counter, source)
    return counter if isinstance(counter, PersonCounter | SoundCounter) else None


def _meter_after(meter: Driver | None, source: PersonSource) -> Meter | None:
    """Give the meter of a bench whose source a person sets: one who reads it too asks for the settings itself."""
    role = _meter_role(meter, None)
    return role if role is None or isinstance(role, PersonMeter) else MeterAfterSetting(role, source)


def _counter_after(counter: Driver | None, source: PersonSource) -> Counter | None:
    role = _counter_role(counter, None)
    return role if role is None or isinstance(role, PersonCounter) else CounterAfterSetting(role, source)


class OpenBench:
    """The instruments of a bench file, opened as far as they answered."""

    def __init__(
        self, openers: dict[str, tuple[str, Callable[[], Driver]]], attend: Callable[[Ask], None] | None = None
    ) -> None:
        self._openers = openers
        self._attend = attend
        self._drivers: dict[str, Driver] = {}
        self._problems: dict[str, str] = {}
        self._closing = Lock()
        self._left_off = True
        self.reopen_missing()

    @property
    def bench(self) -> Bench:
        """The instruments by role, as a run sees them."""
        found, meter, counter = (self._drivers.get(role) for role in ("source", "meter", "counter"))
        if isinstance(found, PersonSource):
            by_hand = _meter_after(meter, found), _counter_after(counter, found)
            return Bench(found, *by_hand, hears=self._hears, attend=self._attend)
        source = found if isinstance(found, SourceDriver) else None
        return Bench(
            source=_Source(source) if source is not None else None,
            meter=_meter_role(meter, source),
            counter=_counter_role(counter, source),
            hears=self._hears,
            attend=self._attend,
        )

    @property
    def _hears(self) -> tuple[str, ...]:
        return tuple(role for role, each in self._drivers.items() if isinstance(each, SoundMeter | SoundCounter))

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
        except (DriverError, DialectError) as error:
            self._problems[role] = str(error)

    def output_is_on(self) -> bool | None:
        """Ask the source whether its output is on; None where it does not say."""
        source = self._drivers.get("source")
        if not isinstance(source, SourceDriver):
            return None
        try:
            return source.output_is_on()
        except DriverError:
            return None

    def make_safe(self) -> bool:
        """Switch the source's output off, and say whether it confirmed. True where there is no source to be on."""
        source = self._drivers.get("source")
        if isinstance(source, PersonSource):
            return source.make_safe()
        return source.make_safe().confirmed if isinstance(source, SourceDriver) else True

    def close(self) -> bool:
        """Make safe and let go of every link, the source first; say whether it confirmed. May be called twice."""
        with self._closing:
            source = self._drivers.pop("source", None)
            if isinstance(source, SourceDriver):
                self._left_off = source.let_go().confirmed
            elif isinstance(source, PersonSource):
                self._left_off = source.make_safe()
            for role in ("meter", "counter"):
                driver = self._drivers.pop(role, None)
                if driver is not None:
                    driver.close()
            return self._left_off


def open_bench(bench_file: BenchFile) -> OpenBench:
    """Open the instruments of a bench file. One that does not answer is missing, with the reason on its card."""
    openers: dict[str, tuple[str, Callable[[], Driver]]] = {}
    hand = Hand()
    by_hand = False
    for role, entry in (("source", bench_file.source), ("meter", bench_file.meter), ("counter", bench_file.counter)):
        if entry is not None:
            by_hand |= entry.address == BY_HAND
            openers[role] = (entry.address, _opener(entry, hand))
    return OpenBench(openers, hand.attend if by_hand else None)


def _opener(entry: SourceEntry | MeterEntry | CounterEntry, hand: Hand) -> Callable[[], Driver]:
    """Give what opens one role: an instrument on a wire, a person, or the sound of the receiver."""
    address = entry.address
    if isinstance(entry, SourceEntry):
        if address == BY_HAND:
            return lambda: PersonSource(
                hand, ceiling_dbm=entry.ceiling_dbm, step_hz=entry.step_hz, step_db=entry.step_db
            )
        return lambda: open_source(address, ceiling_dbm=entry.ceiling_dbm, **_words(entry))
    if is_sound(address):
        return lambda: _sound_role(entry)
    if isinstance(entry, MeterEntry):
        if address == BY_HAND:
            return lambda: PersonMeter(hand, entry.unit)
        return lambda: open_meter(address, function=entry.function, **_words(entry))
    return (lambda: PersonCounter(hand)) if address == BY_HAND else (lambda: open_counter(address, **_words(entry)))


def _sound_role(entry: MeterEntry | CounterEntry) -> SoundMeter | SoundCounter:
    sound = _SoundInput(open_sound_input(input_name(entry.address)))
    if isinstance(entry, CounterEntry):
        return SoundCounter(entry.address, sound)
    tone_hz = entry.tone_hz
    between_hz = None if tone_hz is None else (max(tone_hz - TONE_SPAN_HZ, 0.0), tone_hz + TONE_SPAN_HZ)
    return SoundMeter(entry.address, sound, between_hz)


class _Words(TypedDict):
    models: tuple[Model, ...]
    dialect: str | None
    baud: int | None


def _words(entry: InstrumentEntry) -> _Words:
    """Give how an instrument is spoken to: the user's dialects are read afresh whenever one is opened."""
    return {"models": known_models(dialect_folder()), "dialect": entry.dialect, "baud": entry.baud}


def dialect_folder() -> Path:
    """Give the folder in which the user keeps dialects of instruments."""
    return user_data_path("peakwright") / "instruments"


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
        for found in discover(addresses, models=known_models(dialect_folder()))
    )


def try_instrument(
    address: str, role: str, tell: Callable[[bool, str], None], *, write: Path | None, allow_output: bool
) -> Path | None:
    """Go through a role with an instrument, step by step, and write the dialect in which it worked.

    Args:
        address: Its VISA address.
        role: "source", "meter" or "counter".
        tell: Called with each step: whether it worked, and what it was.
        write: Where the dialect goes; left out, into the user's folder, under a name that is not taken.
        allow_output: Whether a source may come on for a moment.

    Returns:
        The file that was written; None where the instrument cannot play the role.

    Raises:
        ServerError: The file cannot be written.
    """
    model = try_role(address, role, lambda step: tell(step.worked, step.text), allow_output=allow_output)
    if model is None:
        return None
    path = write or _free_path(dialect_folder(), f"{model.maker} {model.model} {role}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(write_dialect(model), encoding="utf-8")
    except OSError as error:
        raise OrderRefused(f"{path}: the dialect cannot be written ({error.strerror}); check the path.") from error
    return path


def _free_path(folder: Path, title: str) -> Path:
    """Give a file name that says whose dialect it is, and that is not taken."""
    name = re.sub(r"[^a-z0-9]+", "-", title.casefold()).strip("-")
    names = (name if number == 1 else f"{name}-{number}" for number in count(1))
    return next(path for one in names if not (path := folder / f"{one}.toml").exists())


def choose_visa(library: str) -> None:
    """Speak through another VISA library than the one that came along.

    Raises:
        OrderRefused: It cannot be loaded.
    """
    try:
        VISA.choose(library)
    except VisaMissingError as error:
        raise OrderRefused(str(error)) from error


def trace_wire(path: Path, *, masked: bool) -> None:
    """Write down what goes over the wire from now on.

    Raises:
        OrderRefused: The file cannot be written.
    """
    try:
        WIRE_TRACE.begin(path, masked=masked)
    except OSError as error:
        raise OrderRefused(f"{path}: the wire cannot be written down ({error.strerror}); check the path.") from error


class _SoundInput:
    """A sound input whose errors are the server's own."""

    def __init__(self, driver: SoundInputDriver) -> None:
        self._driver = driver

    @property
    def name(self) -> str:
        return self._driver.name

    def record(self, duration_s: float) -> Recording:
        try:
            return self._driver.record(duration_s)
        except SoundError as error:
            raise SoundInputError(str(error)) from error

    def close(self) -> None:
        self._driver.close()


def open_sound(name: str | None) -> _SoundInput:
    """Open a sound input, by name or as a WAV file; the system's default where left out.

    Raises:
        SoundInputError: it cannot be opened.
    """
    try:
        return _SoundInput(open_sound_input(name))
    except SoundError as error:
        raise SoundInputError(str(error)) from error
