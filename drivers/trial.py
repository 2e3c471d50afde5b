"""Going through a role step by step with an instrument nobody has described: what works becomes its dialect.

The output stays off unless the person allows it on: then it comes on once, at `QUIET_DBM`, and goes off again.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from drivers.conversation import Conversation
from drivers.dialect import CounterDialect, MeterDialect, Model, SourceDialect, Way, question_of
from drivers.errors import DriverError, InstrumentError, MarkError, NotConnectedError, ReplyTimeoutError
from drivers.identity import Identity
from drivers.instrument import Instrument
from drivers.levels import Into, LevelUnit
from drivers.ownership import Ownership
from drivers.scpi import NumberMark, mark_of
from drivers.transport import VisaTransport

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    from drivers.transport import Transport

QUIET_DBM = -60.0
TRIED_GATE_S = 0.1
# The longest patience with a counter that waits for a signal.
_COUNTING_S = 3.0
_OUTPUTS = (":OUTP", ":OUTP:STAT", ":OUTP1", ":OUTP1:STAT", ":RFO:STAT")
_FREQUENCIES = (":FREQ", ":SOUR:FREQ", ":FREQ:CW", ":SOUR1:FREQ", ":SOUR:FREQ:CW")
_POWERS = (":POW", ":SOUR:POW", ":POW:AMPL", ":SOUR:POW:LEV", ":SOUR1:POW")
_VOLTS = (":VOLT", ":SOUR:VOLT", ":SOUR1:VOLT")
_UNITS = {"VPP": LevelUnit.VOLTS_PEAK_TO_PEAK, "VRMS": LevelUnit.VOLTS_RMS, "DBM": LevelUnit.DBM}
_GATES = (":SENS:FREQ:APER", ":FREQ:APER", ":SENS:FREQ:GATE:TIME", ":FREQ:GATE:TIME")
_CONVERSATIONS = (
    (Conversation(), "it speaks IEEE 488.2 and SCPI-99"),
    (Conversation(errors=""), "it has no error queue: what it is told is only known from asking it back"),
    (Conversation(identify=False), "it does not say its name: name its dialect in the bench file"),
    (
        Conversation(identify=False, errors="", done=False, compound=False, echo=False),
        "it says no name, no error and no end: only its answers tell that it is there",
    ),
)


@dataclass(frozen=True, slots=True)
class Step:
    """One thing that was tried, and whether it worked."""

    worked: bool
    text: str


class RoleNotTakenError(Exception):
    """The instrument cannot play the role; the steps say why."""


def try_role(
    address: str,
    role: str,
    report: Callable[[Step], None],
    *,
    allow_output: bool = False,
    open_transport: Callable[[str], Transport] = VisaTransport,
    timeout_s: float = 2.0,
) -> Model | None:
    """Go through a role and give the dialect in which it worked; None where it did not.

    Args:
        address: The VISA address.
        role: "source", "meter" or "counter".
        report: Called with each step as it is done.
        allow_output: Whether the output of a source may come on, for a moment.
        open_transport: How the address is reached.
        timeout_s: How long each answer may take.
    """
    owner = Ownership(address)
    trial: _Trial | None = None
    try:
        owner.claim()
        instrument, conversation = _open(address, report, open_transport, timeout_s)
        trial = _Trial(instrument, report)
        found = {
            "source": lambda: trial.source(allow_output=allow_output),
            "meter": trial.meter,
            "counter": trial.counter,
        }
        roles = found[role]()
    except RoleNotTakenError:
        return None
    except DriverError as error:
        report(Step(worked=False, text=str(error)))
        return None
    finally:
        if trial is not None:
            trial.close()
        owner.release()
    name = instrument.identity if conversation.identify else Identity("", "")
    return replace(roles, maker=name.maker, model=name.model, conversation=conversation)


def _open(
    address: str,
    report: Callable[[Step], None],
    open_transport: Callable[[str], Transport],
    timeout_s: float,
) -> tuple[Instrument, Conversation]:
    """Find a conversation that the instrument joins, the fullest first."""
    for conversation, meaning in _CONVERSATIONS:
        unnamed = None if conversation.identify else Identity("an instrument", "without a name")
        instrument = Instrument(
            open_transport(address),
            timeout_s=timeout_s,
            conversation=lambda _, chosen=conversation: chosen,  # type: ignore[misc] # mypy cannot infer it
            unasked_name=unnamed,
        )
        try:
            instrument.open()
        except NotConnectedError as error:
            if "*IDN?" not in error.reason:
                raise
        except (ReplyTimeoutError, InstrumentError):
            pass
        else:
            if unnamed is None:
                report(Step(worked=True, text=f"it says that it is {instrument.identity}"))
            report(Step(worked=True, text=meaning))
            report(Step(worked=instrument.is_paired, text=_about_pairing(instrument)))
            return instrument, conversation
        report(Step(worked=False, text=f"tried: {meaning}"))
    raise NotConnectedError(address, "nothing that was tried was answered")


def _about_pairing(instrument: Instrument) -> str:
    if instrument.is_paired:
        return "each answer can be proven to belong to its question"
    return "answers cannot be proven to belong to their questions: it is asked only while its line is silent"


class _Trial:
    """One open instrument, and what is found out about it."""

    def __init__(self, instrument: Instrument, report: Callable[[Step], None]) -> None:
        self._instrument = instrument
        self._report = report
        self._off: str | None = None

    def close(self) -> None:
        """Leave the output off as far as is known how, and let go."""
        if self._off is not None:
            with suppress(DriverError):
                self._instrument.command(self._off)
        self._instrument.close()

    # A source

    def source(self, *, allow_output: bool) -> Model:
        """Output first: nothing else is touched before it is off."""
        dialect = self._with_output(SourceDialect())
        dialect = self._with_frequency(dialect)
        dialect = self._with_level(dialect)
        if allow_output:
            self._switch_on(dialect)
        else:
            self._report(Step(worked=True, text="the output was not switched on: it was not allowed"))
        return Model(source=dialect)

    def _with_output(self, dialect: SourceDialect) -> SourceDialect:
        words = self._first("what asks for its output", _OUTPUTS, self._answers_boolean)
        dialect = replace(dialect, output=words)
        self._off = dialect.set_output(on=False)
        self._must("switching its output off", lambda: self._instrument.command(dialect.set_output(on=False)))
        if self._instrument.query_boolean(dialect.output_question):
            self._fail(f"{self._off} leaves the output on")
        self._report(Step(worked=True, text=f"{self._off} switches the output off, and {words}? says so"))
        return dialect

    def _with_frequency(self, dialect: SourceDialect) -> SourceDialect:
        words = self._first("what asks for its frequency", _FREQUENCIES, self._answers_number)
        dialect = replace(dialect, frequency=words)
        stands_hz = self._instrument.query_number(dialect.frequency_question)
        told = dialect.set_frequency(stands_hz)
        self._must("setting its frequency", lambda: self._instrument.command(told))
        says_hz = self._instrument.query_number(dialect.frequency_question)
        if abs(says_hz - stands_hz) > max(dialect.frequency_step_hz, 1e-6 * stands_hz):
            self._fail(f"{told} was followed by {says_hz:.12g} Hz")
        self._report(Step(worked=True, text=f"{told} sets the frequency, and {dialect.frequency_question} says so"))
        return dialect

    def _with_level(self, dialect: SourceDialect) -> SourceDialect:
        candidates = [*self._in_decibels(dialect), *self._in_volts(dialect)]
        for one in candidates:
            told = one.set_power(QUIET_DBM)
            try:
                self._instrument.command(told)
                says_dbm = one.power_dbm(self._instrument.query_number(one.power_question))
            except DriverError as error:
                self._report(Step(worked=False, text=f"{told}: {error}"))
                continue
            if abs(says_dbm - QUIET_DBM) <= one.power_step_db:
                self._report(Step(worked=True, text=f"{told} sets {QUIET_DBM:g} dBm, and it says so"))
                return one
            self._report(Step(worked=False, text=f"{told} was followed by what would be {says_dbm:.2f} dBm"))
        self._fail("no words were found that set its level")
        raise AssertionError  # the line above raises

    def _in_decibels(self, dialect: SourceDialect) -> Iterable[SourceDialect]:
        for words in _POWERS:
            if self._answers_number(f"{words}?"):
                self._report(Step(worked=True, text=f"{words}? is answered with a number"))
                yield replace(dialect, power=words)
                yield replace(dialect, power=words, power_unit="")

    def _in_volts(self, dialect: SourceDialect) -> Iterable[SourceDialect]:
        for words in _VOLTS:
            if not self._answers_number(f"{words}?"):
                continue
            unit = self._unit(f"{words}:UNIT?")
            into = self._load()
            self._report(Step(worked=True, text=f"{words}? is answered with a number, in {unit} across {into}"))
            yield replace(dialect, power=words, power_unit="", level=unit, into=into)

    def _unit(self, question: str) -> LevelUnit:
        try:
            said = self._instrument.query(question).strip().upper()
        except DriverError:
            said = "?"
        if said not in _UNITS:
            self._report(Step(worked=False, text=f"{question} does not tell its unit; peak-to-peak volts are taken"))
        return _UNITS.get(said, LevelUnit.VOLTS_PEAK_TO_PEAK)

    def _load(self) -> Into:
        """Across what its volts stand. Taken for matched where it is not told: an error then gives 6 dB less."""
        try:
            ohm = float(self._instrument.query(":OUTP:LOAD?"))
        except (DriverError, ValueError):
            text = (
                "it does not say whether its volts are those of 50 ohm or of an open output: 50 ohm are taken. "
                'If a 50 ohm load gets half, write into = "open"'
            )
            self._report(Step(worked=False, text=text))
            return Into.MATCHED
        return Into.OPEN if mark_of(ohm) is NumberMark.OVERLOAD or ohm >= 1e4 else Into.MATCHED  # noqa: PLR2004 - ohms

    def _switch_on(self, dialect: SourceDialect) -> None:
        on = dialect.set_output(on=True)
        self._must("switching its output on", lambda: self._instrument.command(on))
        came_on = self._instrument.query_boolean(dialect.output_question)
        self._must("switching its output off", lambda: self._instrument.command(dialect.set_output(on=False)))
        if self._instrument.query_boolean(dialect.output_question):
            self._fail("the output does not go off again: switch it off by hand")
        if not came_on:
            self._fail(f"{on} leaves the output off")
        self._report(Step(worked=True, text=f"{on} switched the output on at {QUIET_DBM:g} dBm, and off it went again"))

    # A meter, a counter

    def meter(self) -> Model:
        """Each function by the first way that gives a reading."""
        ways: dict[str, tuple[Way, ...]] = {}
        for function, tried in MeterDialect().ways.items():
            working = self._ways(tried)
            if working:
                ways[function] = working
        if not ways:
            self._fail("no way to read volts was found")
        return Model(meter=MeterDialect(ways))

    def counter(self) -> Model:
        """The first way that gives a count; without a signal it can only be seen not to be refused."""
        ways = self._ways(CounterDialect().ways)
        if not ways:
            self._fail("no way to count was found; is there a signal at its input?")
        return Model(counter=CounterDialect(ways, self._gate()))

    def _ways(self, ways: tuple[Way, ...]) -> tuple[Way, ...]:
        for way in ways:
            spoken = way.read if way.configure is None else f"{way.configure}, then {way.read}"
            try:
                if way.configure is not None:
                    self._instrument.command(way.configure)
                value = self._instrument.query_number(way.read, timeout_s=_COUNTING_S)
            except MarkError as mark:
                self._report(Step(worked=True, text=f"{spoken} reads: {mark}"))
                return (way,)
            except DriverError as error:
                self._report(Step(worked=False, text=f"{spoken}: {error}"))
            else:
                self._report(Step(worked=True, text=f"{spoken} reads {value:g}"))
                return (way,)
        return ()

    def _gate(self) -> str | None:
        for words in _GATES:
            try:
                self._instrument.command(f"{words} {TRIED_GATE_S:g}")
            except DriverError:
                continue
            self._report(Step(worked=True, text=f"{words} sets the gate"))
            return words
        self._report(Step(worked=False, text="its gate time cannot be set: it counts for its own"))
        return None

    # Trying

    def _first(self, what: str, candidates: tuple[str, ...], works: Callable[[str], bool]) -> str:
        for words in candidates:
            asked = question_of(words, None)
            if works(asked):
                self._report(Step(worked=True, text=f"{asked} is answered"))
                return words
            self._report(Step(worked=False, text=f"{asked} is not answered as it should be"))
        self._fail(f"{what} was not found")
        raise AssertionError  # the line above raises

    def _answers_number(self, question: str) -> bool:
        try:
            self._instrument.query_number(question)
        except DriverError:
            return False
        return True

    def _answers_boolean(self, question: str) -> bool:
        try:
            self._instrument.query_boolean(question)
        except DriverError:
            return False
        return True

    def _must(self, what: str, action: Callable[[], None]) -> None:
        try:
            action()
        except DriverError as error:
            self._fail(f"{what}: {error}")

    def _fail(self, text: str) -> None:
        self._report(Step(worked=False, text=text))
        raise RoleNotTakenError
