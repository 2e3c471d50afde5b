"""The smallest sub-procedures: one request each, with the type of its reply. Everything else is built from these."""

from collections.abc import Callable, Generator
from typing import Any

from sequences.engine.events import Event, ReadingTaken
from sequences.engine.requests import (
    Ask,
    CountFrequency,
    LookAtClock,
    ReadMeter,
    Request,
    SetFrequency,
    SetOutput,
    SetPower,
    Settle,
    Tell,
)


def set_frequency(frequency_hz: float) -> Generator[Request, Any, None]:
    """Move the source."""
    yield SetFrequency(frequency_hz)


def set_power(power_dbm: float) -> Generator[Request, Any, None]:
    """Set the power that reaches the receiver."""
    yield SetPower(power_dbm)


def set_output(on: bool) -> Generator[Request, Any, None]:
    """Switch the source's output."""
    yield SetOutput(on)


def settle(duration_s: float) -> Generator[Request, Any, None]:
    """Wait, where there is anything to wait for."""
    if duration_s > 0:
        yield Settle(duration_s)


def read_meter(purpose: str, meanwhile: Callable[[], object] | None = None) -> Generator[Request, Any, ReadingTaken]:
    """Take one voltage reading, and calculate something meanwhile."""
    reading: ReadingTaken = yield ReadMeter(purpose, meanwhile)
    return reading


def count_frequency(gate_s: float, purpose: str) -> Generator[Request, Any, ReadingTaken]:
    """Take one counter reading."""
    reading: ReadingTaken = yield CountFrequency(gate_s, purpose)
    return reading


def look_at_clock() -> Generator[Request, Any, float]:
    """Give the seconds since the run began."""
    now_s: float = yield LookAtClock()
    return now_s


def ask(request: Ask) -> Generator[Request, Any, str]:
    """Wait for the person; gives the answer."""
    answer: str = yield request
    return answer


def tell(event: Event) -> Generator[Request, Any, str | None]:
    """Show the person something; gives the latest signal, or None."""
    signal: str | None = yield Tell(event)
    return signal
