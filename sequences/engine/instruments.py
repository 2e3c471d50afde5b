"""What a procedure may ask of a bench. Drivers fit these shapes without importing them; the server joins the two.

Every method may raise `sequences.errors.InstrumentFault`, or `ReplyLost` where asking again may help.
"""

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol


class Mark(StrEnum):
    """What a reading is worth."""

    GOOD = "good"
    OVERLOAD = "overload"
    NOT_A_NUMBER = "not a number"
    TAKEN_BACK = "taken back"
    """No reading: the person who reads takes the one before it back."""


@dataclass(frozen=True, slots=True)
class MeterReply:
    """One reply of a meter or counter. `value` is in volts or hertz, and None unless the mark is good."""

    value: float | None
    mark: Mark = Mark.GOOD


class Source(Protocol):
    """A signal generator. Frequencies in Hz, powers in dBm at the source's own connector."""

    def set_frequency(self, frequency_hz: float) -> None:
        """Set the frequency and return once the instrument says it has settled."""

    def set_power(self, power_dbm: float) -> None:
        """Set the output power."""

    def set_output(self, on: bool) -> None:
        """Switch the output."""

    def check_standing(self) -> None:
        """Ask the instrument how it stands; a fault where that is not how it was last set."""

    def make_safe(self) -> bool:
        """Switch the output off by every means there is, reopening the link if it was lost.

        Never raises. Returns whether the instrument itself confirmed that its output is off.
        """


class Meter(Protocol):
    """A voltmeter."""

    def read_voltage(self, meanwhile: Callable[[], object] | None = None) -> MeterReply:
        """Take one reading in volts.

        Args:
            meanwhile: carried out before it returns, where that can be while the instrument is at work. Never raises.
        """


class Counter(Protocol):
    """A frequency counter."""

    def read_frequency(self, gate_s: float) -> MeterReply:
        """Count for `gate_s` seconds and give hertz."""


@dataclass(frozen=True, slots=True)
class Bench:
    """The instruments by role. A role that nothing fills is None, and a procedure that needs it is refused."""

    source: Source | None = None
    meter: Meter | None = None
    counter: Counter | None = None
    hears: tuple[str, ...] = ()
    """The roles that are the sound of the receiver: they can stand at its audio only, whatever a lead is asked for."""
    attend: Callable[[Callable[[str, str], str]], None] | None = None
    """Where instruments are a person: gives them whom to ask, by a role and a question, for the time of a run."""
