"""Run a procedure against made-up replies: what it will ask is listed and checked before anything is switched on."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from sequences.engine.events import ReadingTaken
from sequences.engine.instruments import Mark
from sequences.engine.questions import ConnectLeads
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
)
from sequences.engine.run import Limits, Procedure, T, check_limits
from sequences.errors import SequenceError

LONGEST_REHEARSAL = 20_000
"""Requests after which a procedure is taken to have no end."""

READING_S = 0.1
"""How long a voltage reading is made out to take."""


@dataclass(frozen=True, slots=True)
class Rehearsal:
    """What a procedure asked for, in order, and what it came to."""

    requests: tuple[Request, ...]
    outcome: Any


@dataclass(frozen=True, slots=True)
class PaperBench:
    """What the bench that is not there would read.

    `volts`: the meter's reply at a source frequency in Hz and a power in dBm, None where the output is off.
    `counts_hz`: the counter's reply at a source frequency in Hz. `answer`: what the person says; the first answer if
    left out.
    """

    volts: Callable[[float, float | None], float]
    counts_hz: Callable[[float], float] = float
    answer: Callable[[Ask], str] = lambda asked: asked.answers[0] if asked.answers else ""


def rehearse(procedure: Procedure[T], paper: PaperBench, limits: Limits) -> Rehearsal:
    """Play a procedure through on a bench that is not there.

    Args:
        procedure: a generator that has not been started.
        paper: what is read and answered.
        limits: what the hookup allows; where leads are asked to be moved, what their new place allows.

    Raises:
        LimitError: the procedure would ask more than the hookup allows.
        SequenceError: the procedure does not come to an end, or ended in an error of its own.
    """
    bench = _Bench(paper)
    requests: list[Request] = []
    reply: Any = None
    try:
        while len(requests) < LONGEST_REHEARSAL:
            request = procedure.send(reply)
            check_limits(request, limits)
            requests.append(request)
            reply = bench.reply(request)
            if isinstance(request, Ask) and isinstance(question := request.question, ConnectLeads):
                limits = limits.with_source_at(question.source.to)
    except StopIteration as end:
        return Rehearsal(tuple(requests), end.value)
    finally:
        procedure.close()
    raise SequenceError(f"The procedure did not end within {LONGEST_REHEARSAL} requests.")


class _Bench:
    """Answers requests without instruments; time passes as it would."""

    def __init__(self, paper: PaperBench) -> None:
        self._paper = paper
        self._frequency_hz: float | None = None
        self._power_dbm: float | None = None
        self._output_on = False
        self._readings = 0
        self._now_s = 0.0

    def reply(self, request: Request) -> ReadingTaken | str | float | None:
        if isinstance(request, Ask | LookAtClock):
            return self._paper.answer(request) if isinstance(request, Ask) else self._now_s
        if isinstance(request, SetFrequency):
            self._frequency_hz = request.frequency_hz
        elif isinstance(request, SetPower):
            self._power_dbm = request.power_dbm
        elif isinstance(request, SetOutput):
            self._output_on = request.on
        elif isinstance(request, Settle):
            self._now_s += request.duration_s
        elif isinstance(request, ReadMeter):
            self._now_s += READING_S
            power_dbm = self._power_dbm if self._output_on else None
            return self._reading("meter", request.purpose, self._paper.volts(self._frequency_hz or 0.0, power_dbm), "V")
        elif isinstance(request, CountFrequency):
            self._now_s += request.gate_s
            return self._reading("counter", request.purpose, self._paper.counts_hz(self._frequency_hz or 0.0), "Hz")
        return None

    def _reading(self, role: str, purpose: str, value: float, unit: str) -> ReadingTaken:
        self._readings += 1
        return ReadingTaken(
            index=self._readings - 1,
            time_s=self._now_s,
            role=role,
            purpose=purpose,
            value=value,
            unit=unit,
            mark=Mark.GOOD,
            frequency_hz=self._frequency_hz,
            power_dbm=self._power_dbm,
        )
