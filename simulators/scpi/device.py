"""An instrument's front: takes program messages, carries out their commands, gives back the answers."""

import threading
from abc import ABC, abstractmethod
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from simulators.clock import Clock
from simulators.scpi.errors import ScpiError
from simulators.scpi.headers import Found, HeaderTree
from simulators.scpi.parameters import PLAIN, Numeric, Parameter
from simulators.scpi.status import OPERATION_COMPLETE_EVENT, SETTLING_CONDITION, EventRegister, Status

_BYTE = Numeric(0, 255, 0, PLAIN)
_WORD = Numeric(0, 65535, 0, PLAIN)


@dataclass(frozen=True, slots=True)
class Command:
    """One entry of the tree.

    `act` carries out the command form, `ask` answers the query form; either may be missing. Both are called with the
    parsed parameters. Those of a query, `ask_parameters`, may all be left out from the end; those of a command only
    where it is `optional`. What is left out is not passed.
    """

    act: Callable[..., None] | None = None
    ask: Callable[..., str] | None = None
    parameters: Sequence[Parameter] = ()
    ask_parameters: Sequence[Parameter] = ()
    optional: bool = False


@dataclass(frozen=True, slots=True)
class Bound:
    """The parameter of a setting's query: MIN, MAX or DEF."""

    number: Numeric

    def parse(self, text: str) -> float:
        """Give the bound asked for."""
        value = self.number.keyword(text)
        if value is None:
            raise ScpiError(-224, text)
        return value


class Device(ABC):
    """The part all instruments share: IEEE 488.2 common commands, STATus and SYSTem."""

    def __init__(self, identity: str, clock: Clock) -> None:
        self.identity = identity
        self.status = Status()
        self.clock = clock
        self._tree: HeaderTree[Command] = HeaderTree()
        self._lock = threading.Lock()
        self._answers: list[str] = []
        self._busy_until_s = 0.0
        self._complete_event_due = False
        self._add_common_commands()
        self._add_registers()

    @abstractmethod
    def reset(self) -> None:
        """`*RST`: put the settings to their defaults. Registers and queue stay."""

    def add(self, pattern: str, command: Command) -> None:
        """Enter a command in the tree."""
        self._tree.add(pattern, command)

    def add_setting(
        self, pattern: str, number: Numeric, read: Callable[[], float], write: Callable[[float], None]
    ) -> None:
        """Enter a number that can be set and asked for, also for its MIN, MAX and DEF."""

        def ask(bound: float | None = None) -> str:
            return scientific(read() if bound is None else bound)

        self.add(pattern, Command(write, ask, (number,), (Bound(number),)))

    def busy_for(self, duration_s: float) -> None:
        """Start something that takes `duration_s`; `*OPC?` and `*WAI` wait for it."""
        self._busy_until_s = max(self._busy_until_s, self.clock.now_s() + duration_s)
        self._refresh_status()

    def execute(self, message: str) -> str | None:
        """Carry out one program message and give the answers of its queries, joined by `;`, or None without any."""
        with self._lock:
            self._answers = []
            beside = self._tree.root
            try:
                for unit in _split(message, ";"):
                    text = unit.strip()
                    if text:
                        beside = self._carry_out(text, beside).beside
            except ScpiError as error:
                self.status.report(error)
            return ";".join(self._answers) if self._answers else None

    def overrun(self) -> None:
        """Report a message that was longer than the input buffer."""
        with self._lock:
            self.status.report(ScpiError(-363))

    def _carry_out(self, text: str, beside: Any) -> Found[Command]:  # noqa: ANN401 - a node of the private tree
        header, _, rest = text.partition(" ") if "\t" not in text else text.replace("\t", " ").partition(" ")
        found = self._tree.find(header, beside)
        try:
            if found.is_query:
                self._ask(found, header, rest.strip())
            else:
                self._act(found, header, rest.strip())
        except ScpiError as error:
            # A message that cannot be understood is dropped from here on; one that cannot be obeyed goes on.
            if error.is_command_error:
                raise
            self.status.report(error)
        return found

    def _ask(self, found: Found[Command], header: str, rest: str) -> None:
        command = found.command
        if command.ask is None:
            raise ScpiError(-113, header)
        values = _parse(rest, command.ask_parameters, optional=True)
        self._answers.append(command.ask(*found.suffixes, *values))

    def _act(self, found: Found[Command], header: str, rest: str) -> None:
        command = found.command
        if command.act is None:
            raise ScpiError(-113, header)
        values = _parse(rest, command.parameters, optional=command.optional)
        command.act(*found.suffixes, *values)

    def _add_common_commands(self) -> None:
        standard = self.status.standard
        self.add("*IDN", Command(ask=lambda: self.identity))
        self.add("*RST", Command(self.reset))
        self.add("*CLS", Command(self._clear))
        self.add("*ESE", Command(self._enable_standard, lambda: str(standard.enable), (_BYTE,)))
        self.add("*ESR", Command(ask=self._take_standard))
        self.add("*SRE", Command(self._enable_service, lambda: str(self.status.service_enable), (_BYTE,)))
        self.add("*STB", Command(ask=self._status_byte))
        self.add("*OPC", Command(self._note_completion, self._answer_completion))
        self.add("*WAI", Command(self._wait_until_idle))
        self.add("*TST", Command(ask=lambda: "0"))
        self.add("SYSTem:ERRor[:NEXT]", Command(ask=self.status.next_error))
        self.add("SYSTem:ERRor:COUNt", Command(ask=lambda: str(self.status.error_count())))
        self.add("SYSTem:VERSion", Command(ask=lambda: "1999.0"))

    def _add_registers(self) -> None:
        for name, register in (("OPERation", self.status.operation), ("QUEStionable", self.status.questionable)):
            self._add_register(name, register)
        self.add("STATus:PRESet", Command(self._preset))

    def _add_register(self, name: str, register: EventRegister) -> None:
        def enable(mask: float) -> None:
            register.enable = round(mask)

        def take_event() -> str:
            self._refresh_status()
            return str(register.take_event())

        def condition() -> str:
            self._refresh_status()
            return str(register.condition)

        self.add(f"STATus:{name}[:EVENt]", Command(ask=take_event))
        self.add(f"STATus:{name}:CONDition", Command(ask=condition))
        self.add(f"STATus:{name}:ENABle", Command(enable, lambda: str(register.enable), (_WORD,)))

    def _preset(self) -> None:
        self.status.operation.enable = 0
        self.status.questionable.enable = 0

    def _clear(self) -> None:
        self._complete_event_due = False
        self.status.clear()

    def _enable_standard(self, mask: float) -> None:
        self.status.standard.enable = round(mask)

    def _enable_service(self, mask: float) -> None:
        # Bit 6 is the summary itself and cannot be enabled (IEEE 488.2 section 11.3.2.2).
        self.status.service_enable = round(mask) & ~64

    def _take_standard(self) -> str:
        self._refresh_status()
        return str(self.status.standard.take_event())

    def _status_byte(self) -> str:
        self._refresh_status()
        return str(self.status.byte(message_available=bool(self._answers)))

    def _note_completion(self) -> None:
        self._complete_event_due = True
        self._refresh_status()

    def _refresh_status(self) -> None:
        """Bring the registers up to this moment: settling or not, and the event that was asked for when done."""
        settling = self.clock.now_s() < self._busy_until_s
        self.status.operation.set_condition(SETTLING_CONDITION if settling else 0)
        if self._complete_event_due and not settling:
            self._complete_event_due = False
            self.status.standard.event |= OPERATION_COMPLETE_EVENT

    def _answer_completion(self) -> str:
        self._wait_until_idle()
        return "1"

    def _wait_until_idle(self) -> None:
        remaining_s = self._busy_until_s - self.clock.now_s()
        if remaining_s > 0.0:
            self.clock.wait(remaining_s)


def scientific(value: float) -> str:
    """Write a number in NR3 form, with enough digits to give the same number back."""
    return f"{value:+.12E}"


def _parse(text: str, parameters: Sequence[Parameter], *, optional: bool) -> list[object]:
    texts = [part.strip() for part in _split(text, ",")] if text else []
    if not all(texts):
        raise ScpiError(-103, text)
    if len(texts) > len(parameters):
        raise ScpiError(-108, text)
    if len(texts) < len(parameters) and not optional:
        raise ScpiError(-109)
    return [parameter.parse(part) for parameter, part in zip(parameters, texts, strict=False)]


def _split(message: str, separator: str) -> list[str]:
    """Split at a separator that stands outside quotes and blocks."""
    if '"' not in message and "'" not in message and "#" not in message:
        return message.split(separator)
    parts, start, at = [], 0, 0
    while at < len(message):
        if message[at] == separator:
            parts.append(message[start:at])
            start = at + 1
        at = _after(message, at)
    return [*parts, message[start:]]


def _after(message: str, at: int) -> int:
    """Give the place after the character, the quoted string or the block that begins at `at`."""
    character = message[at]
    if character in "'\"":
        closing = message.find(character, at + 1)
        if closing < 0:
            raise ScpiError(-151, message[at:])
        return closing + 1
    count = message[at + 1 : at + 2]
    if character == "#" and count.isdigit() and count != "0":
        length = message[at + 2 : at + 2 + int(count)]
        if not length.isdigit():
            raise ScpiError(-161, message[at:])
        return at + 2 + int(count) + int(length)
    return at + 1
