"""Run a procedure against made-up replies: what it will ask is listed and checked before anything is switched on."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from sequences.engine.events import ReadingTaken
from sequences.engine.instruments import Mark
from sequences.engine.requests import CountFrequency, ReadMeter, Request, SetFrequency, SetPower
from sequences.engine.run import Limits, Procedure, T, check_limits
from sequences.errors import SequenceError

LONGEST_REHEARSAL = 10_000
"""Requests after which a procedure is taken to have no end."""


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """What a procedure asked for, in order, and what it came to (None where it ended in an error of its own)."""

    requests: tuple[Request, ...]
    outcome: Any


def rehearse(procedure: Procedure[T], volts: Callable[[float], float], limits: Limits) -> Rehearsal:
    """Play a procedure through on a bench that is not there.

    Args:
        procedure: a generator that has not been started.
        volts: the meter's reply at a source frequency in Hz.
        limits: what the hookup allows.

    Raises:
        LimitError: the procedure would ask more than the hookup allows.
        SequenceError: the procedure does not come to an end.
    """
    bench = _PaperBench(volts)
    requests: list[Request] = []
    reply: Any = None
    try:
        while len(requests) < LONGEST_REHEARSAL:
            request = procedure.send(reply)
            check_limits(request, limits)
            requests.append(request)
            reply = bench.reply(request)
    except StopIteration as end:
        return Rehearsal(tuple(requests), end.value)
    finally:
        procedure.close()
    raise SequenceError(f"The procedure did not end within {LONGEST_REHEARSAL} requests.")


class _PaperBench:
    """Answers requests without instruments; every reading takes no time and reads what `volts` says."""

    def __init__(self, volts: Callable[[float], float]) -> None:
        self._volts = volts
        self._frequency_hz: float | None = None
        self._power_dbm: float | None = None
        self._readings = 0

    def reply(self, request: Request) -> ReadingTaken | None:
        if isinstance(request, SetFrequency):
            self._frequency_hz = request.frequency_hz
        elif isinstance(request, SetPower):
            self._power_dbm = request.power_dbm
        elif isinstance(request, ReadMeter):
            return self._reading("meter", request.purpose, self._volts(self._frequency_hz or 0.0), "V")
        elif isinstance(request, CountFrequency):
            return self._reading("counter", request.purpose, self._frequency_hz or 0.0, "Hz")
        return None

    def _reading(self, role: str, purpose: str, value: float, unit: str) -> ReadingTaken:
        self._readings += 1
        return ReadingTaken(
            index=self._readings - 1,
            time_s=0.0,
            role=role,
            purpose=purpose,
            value=value,
            unit=unit,
            mark=Mark.GOOD,
            frequency_hz=self._frequency_hz,
            power_dbm=self._power_dbm,
        )
