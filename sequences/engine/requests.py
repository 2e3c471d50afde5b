"""What a procedure may yield. Each request is a frozen value; the engine carries it out and sends back the reply."""

from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class SetFrequency:
    """Move the source. Reply: None."""

    frequency_hz: float


@dataclass(frozen=True, slots=True)
class SetPower:
    """Set the power that reaches the receiver; the engine adds the loss between source and receiver. Reply: None."""

    power_dbm: float


@dataclass(frozen=True, slots=True)
class SetOutput:
    """Switch the source's output. Reply: None."""

    on: bool


@dataclass(frozen=True, slots=True)
class Settle:
    """Wait for detector and AGC. Reply: None."""

    duration_s: float


@dataclass(frozen=True, slots=True)
class ReadMeter:
    """Take one voltage reading. Reply: `sequences.engine.events.ReadingTaken`."""

    purpose: str = "scan"


@dataclass(frozen=True, slots=True)
class CountFrequency:
    """Take one counter reading. Reply: `sequences.engine.events.ReadingTaken`."""

    gate_s: float
    purpose: str = "count"


@dataclass(frozen=True, slots=True)
class Ask:
    """Wait for the person to do one thing. Reply: the answer, one of `answers`, or any text where that is empty.

    `action` is a word a program can act on (connect, set, turn, choose); `subject` the adjuster, control or hookup;
    `detail` its particulars (which way, how far, to what), so that a robot can do it and a page can draw it.
    """

    action: str
    subject: str
    text: str
    answers: tuple[str, ...] = ("done",)
    detail: dict[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Tell:
    """Let the person see something now: an event's worth of guidance. Reply: the latest signal, or None."""

    event: Any


Request = SetFrequency | SetPower | SetOutput | Settle | ReadMeter | CountFrequency | Ask | Tell
