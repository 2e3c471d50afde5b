"""What a procedure may yield. Each request is a frozen value; the engine carries it out and sends back the reply."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from sequences.engine.questions import Question, plain_of, question_of


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
    """Take one voltage reading. Reply: `sequences.engine.events.ReadingTaken`.

    `meanwhile` is carried out once, while the meter is at work: what takes a while to calculate then costs no time.
    """

    purpose: str = "scan"
    meanwhile: Callable[[], object] | None = None


@dataclass(frozen=True, slots=True)
class CountFrequency:
    """Take one counter reading. Reply: `sequences.engine.events.ReadingTaken`."""

    gate_s: float
    purpose: str = "count"


@dataclass(frozen=True, slots=True)
class LookAtClock:
    """Look at the run's clock. Reply: seconds since the run began."""


@dataclass(frozen=True, slots=True)
class Ask:
    """Wait for the person to do one thing. Reply: the answer, one of `answers`, or any text where that is empty.

    `action`, `subject` and `detail` are the form it has in records and over HTTP; `question` is the same by its type.
    """

    action: str
    subject: str
    text: str
    answers: tuple[str, ...] = ("done",)
    detail: dict[str, Any] = field(default_factory=dict)

    @property
    def question(self) -> Question:
        """Give it by its type."""
        return question_of(self.action, self.subject, self.detail)


def asking(question: Question, text: str, answers: tuple[str, ...] = ("done",)) -> Ask:
    """Put a question in words."""
    action, subject, detail = plain_of(question)
    return Ask(action, subject, text, answers, detail)


@dataclass(frozen=True, slots=True)
class Tell:
    """Let the person see something now: an event's worth of guidance. Reply: the latest signal, or None."""

    event: Any


Request = SetFrequency | SetPower | SetOutput | Settle | ReadMeter | CountFrequency | LookAtClock | Ask | Tell
