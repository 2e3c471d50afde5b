"""Source, meter and counter that are a person's hands and eyes.

A question is one line that begins with SET or READ. The source's settings are asked for together, and only when a
reading needs them: a person is not to be asked twice for one frequency. The output is in the person's hand: the tool
can only ask for it to be switched off.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Literal

from sequences.engine.instruments import Counter, Mark, Meter, MeterReply
from sequences.errors import InstrumentFault
from server.bench.file import BY_HAND
from server.by_hand.answers import AGAIN, BACK, as_volts, read_typed

SET, READ = "SET", "READ"
OFF = f"{SET} output off"
IDENTITY = "a person, by hand"

_SLIPS = (10.0, 100.0, 1000.0)
_SLIP_SHARE = 0.25
"""A reading within a quarter of ten times the last one, or of a tenth of it, may be a slipped decimal point."""

_CONFIRM = "Type it again to confirm."
_CONFIRMS = 0.25
_SAME_STEP = 1e-6
_HZ_PER_KHZ = 1000.0

Ask = Callable[[str, str], str]
"""Puts a question of a role to the person and gives the line that was typed."""


@dataclass(frozen=True, slots=True)
class _Settings:
    frequency_hz: float | None = None
    power_dbm: float | None = None
    on: bool = False


@dataclass(slots=True)
class Hand:
    """The person whom all the instruments of one bench ask; nobody until a run has one."""

    ask: Ask | None = None
    source: "PersonSource | None" = None
    told: list[str] = field(default_factory=list)

    def attend(self, ask: Ask) -> None:
        """Be there for a run."""
        self.ask = ask

    def question(self, role: str, text: str) -> str:
        """Ask, again where it is asked to be said again. Gives the answer without blanks around it.

        Raises:
            InstrumentFault: nobody is there.
        """
        while True:
            if self.ask is None:
                raise InstrumentFault(f"The {role} is a person, and nobody is there to be asked.")
            said = self.told.pop(0) if self.told else ""
            answer = self.ask(role, f"{said}\n{text}" if said else text).strip()
            if answer != AGAIN:
                return answer


class _ByHand:
    """How an instrument stands that is a person: always there, and never lost."""

    address = BY_HAND
    identity = IDENTITY
    state: Literal["ready", "lost"] = "ready"
    last_error: str | None = None

    def __init__(self, hand: Hand) -> None:
        self._hand = hand

    def close(self) -> None:
        """Let go of nothing."""


class PersonSource(_ByHand):
    """A generator that a person sets. `step_hz` and `step_db` are the finest steps that it has."""

    role = "source"

    def __init__(
        self, hand: Hand, *, ceiling_dbm: float, step_hz: float | None = None, step_db: float | None = None
    ) -> None:
        super().__init__(hand)
        self._ceiling_dbm = ceiling_dbm
        self._step_hz = step_hz
        self._step_db = step_db
        self._wanted = _Settings()
        self._standing = _Settings()
        hand.source = self

    def set_frequency(self, frequency_hz: float) -> None:
        """Want a frequency; it is asked for with the next reading.

        Raises:
            InstrumentFault: the generator cannot be set to it.
        """
        if self._step_hz is not None and not _is_multiple(frequency_hz, self._step_hz):
            raise InstrumentFault(
                f"The source can be set in steps of {self._step_hz:g} Hz, and {frequency_hz:g} Hz is none. "
                "Give a smaller step_hz in the bench file."
            )
        self._wanted = replace(self._wanted, frequency_hz=frequency_hz)

    def set_power(self, power_dbm: float) -> None:
        """Want a power, rounded down to what can be set.

        Raises:
            InstrumentFault: it is above the ceiling.
        """
        if power_dbm > self._ceiling_dbm:
            raise InstrumentFault(
                f"{power_dbm:g} dBm is above the source's ceiling of {self._ceiling_dbm:g} dBm; ask for that or less."
            )
        if self._step_db is not None:
            power_dbm = math.floor(power_dbm / self._step_db + _SAME_STEP) * self._step_db
        self._wanted = replace(self._wanted, power_dbm=power_dbm)

    def set_output(self, on: bool) -> None:
        """Want the output on, with the next reading; off is asked for at once."""
        self._wanted = replace(self._wanted, on=on)
        if not on and self._standing.on:
            self._hand.question("source", OFF)
            self._standing = replace(self._standing, on=False)

    def check_standing(self) -> None:
        """Take the person's word: nobody else knows how it stands."""

    def make_safe(self) -> bool:
        """Ask for the output to be off where it was left on: nobody but the person can switch it."""
        self._wanted = _Settings()
        if not self._standing.on:
            return True
        self._standing = _Settings()
        try:
            self._hand.question("source", OFF)
        except Exception:  # noqa: BLE001 - whoever was asked is gone, or wishes something else
            return False
        return True

    def settled(self) -> bool:
        """Have the person set what is wanted. Gives False where the last reading is to be taken back instead."""
        wanted = self._wanted
        if wanted == self._standing or wanted.frequency_hz is None:
            return True
        if not wanted.on:
            self._standing = wanted  # it is off already, or was never on
            return True
        self._standing = _Settings(on=self._standing.on)
        power = "" if wanted.power_dbm is None else f" {wanted.power_dbm:.6g} dBm"
        text = f"{SET} {_khz(wanted.frequency_hz)} kHz{power}"
        while (answer := self._hand.question("source", text)) and answer.casefold() not in {"done", "ok"}:
            if answer.casefold() == BACK:
                return False
            self._hand.told.append(f"{answer!r} is no answer here. Press Enter when it is set, or type ? or back.")
        self._standing = wanted
        return True


class _Reader(_ByHand):
    """What a person reads: asks for the settings first, questions a slip, and takes back on request."""

    role = "meter"

    def __init__(self, hand: Hand, unit: str) -> None:
        super().__init__(hand)
        self._unit = unit
        self._last: float | None = None

    def _read(self) -> float | None:
        """Give a reading in its unit, None where the last one is to be taken back."""
        source = self._hand.source
        if source is not None and not source.settled():
            return None
        doubted: float | None = None
        while True:
            answer = self._hand.question(self.role, f"{READ} {self._unit}")
            if answer.casefold() == BACK:
                return None
            try:
                value = read_typed(answer, self._unit)
            except ValueError as error:
                self._hand.told.append(str(error))
                continue
            said = self._slip(value)
            if said is None or (doubted is not None and abs(value - doubted) <= _CONFIRMS * abs(doubted)):
                self._last = value
                return value
            doubted = value
            self._hand.told.append(said)

    def _slip(self, value: float) -> str | None:
        """Ask whether a decimal point slipped, where a reading is ten times the last one or a tenth of it."""
        if self._unit in {"dB", "S"} or not self._last or not value:
            return None
        ratio = abs(value / self._last)
        for times in _SLIPS:
            if abs(ratio / times - 1) < _SLIP_SHARE:
                return f"{value:g} {self._unit} is {times:g} times the last one ({self._last:g}). {_CONFIRM}"
            if abs(ratio * times - 1) < _SLIP_SHARE:
                return f"{value:g} {self._unit} is 1/{times:g} of the last one ({self._last:g}). {_CONFIRM}"
        return None


class PersonMeter(_Reader):
    """A meter that a person reads, in volts, decibels, S-units or marks of a scale."""

    def __init__(self, hand: Hand, unit: str = "V") -> None:
        super().__init__(hand, unit)

    def read_voltage(self, meanwhile: Callable[[], object] | None = None) -> MeterReply:  # noqa: ARG002 - done after it
        """Have it read; a reading in dB or S-units comes as the voltage of a linear detector."""
        value = self._read()
        if value is None:
            return MeterReply(None, Mark.TAKEN_BACK)
        return MeterReply(as_volts(value, self._unit))


class PersonCounter(_Reader):
    """A counter that a person reads."""

    role = "counter"

    def __init__(self, hand: Hand) -> None:
        super().__init__(hand, "Hz")

    def read_frequency(self, gate_s: float) -> MeterReply:  # noqa: ARG002 - the person's counter has its own gate
        """Have it read."""
        value = self._read()
        return MeterReply(None, Mark.TAKEN_BACK) if value is None else MeterReply(value)


class MeterAfterSetting:
    """A meter that reads by itself, once the person has set the source."""

    def __init__(self, meter: Meter, source: PersonSource) -> None:
        self._meter = meter
        self._source = source

    def read_voltage(self, meanwhile: Callable[[], object] | None = None) -> MeterReply:
        """Have the source set, then read."""
        return self._meter.read_voltage(meanwhile) if self._source.settled() else MeterReply(None, Mark.TAKEN_BACK)


class CounterAfterSetting:
    """A counter that reads by itself, once the person has set the source."""

    def __init__(self, counter: Counter, source: PersonSource) -> None:
        self._counter = counter
        self._source = source

    def read_frequency(self, gate_s: float) -> MeterReply:
        """Have the source set, then count."""
        return self._counter.read_frequency(gate_s) if self._source.settled() else MeterReply(None, Mark.TAKEN_BACK)


def _khz(frequency_hz: float) -> str:
    text = f"{frequency_hz / _HZ_PER_KHZ:.6f}"
    return text.rstrip("0").rstrip(".")


def _is_multiple(value: float, step: float) -> bool:
    return abs(value / step - round(value / step)) < _SAME_STEP
