"""The engine: the only code that acts. It carries out what a procedure requests, and leaves the bench safe.

A procedure is a generator that yields frozen requests and is sent the replies. `run` checks each request against the
hookup's limits, carries it out, and emits an event for what happened. However the run ends (result, stop, fault, a
sink that breaks, Ctrl-C), the source's output is switched off before anything else.
"""

import dataclasses
from collections.abc import Callable, Generator, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from typing import Any, Protocol, TypeVar

from sequences.engine.events import (
    Asked,
    Ending,
    Event,
    Guidance,
    Notice,
    ReadingTaken,
    RunEnded,
    RunStarted,
    SourceChanged,
)
from sequences.engine.instruments import Bench, Counter, Mark, Meter, MeterReply, Source
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
    Tell,
)
from sequences.errors import InstrumentFault, LimitError, LinkAway, ReplyLost, SequenceError, Stopped

T = TypeVar("T")
R = TypeVar("R")
Procedure = Generator[Request, Any, T]

BY_HAND = "by hand"
"""What a question is about that an instrument asks because it is a person: any text answers it."""

HEARD_AT = ("audio", "phones", "speaker", "detector")
"""Words in the names of points whose signal the sound of the receiver is, or follows."""

ATTEMPTS = 3
"""How often one request is put to an instrument whose replies get lost, before the run gives up."""

LONGEST_OUTAGE_S = 15.0
"""How long an instrument that was there may be out of reach, a cable pulled or a switch restarting, before the run
gives up."""

FIRST_PAUSE_S = 0.2
"""The least wait before an instrument that is out of reach is tried again."""

LONGEST_NAP_S = 0.05
"""A wait is slept in naps of this length, so that a stop is heard during it."""


class Clock(Protocol):
    """Time as an argument: tests pass their own."""

    def now(self) -> float:
        """Seconds on a clock that never jumps."""

    def sleep(self, duration_s: float) -> None:
        """Wait."""


class StopFlag(Protocol):
    """What tells a run to end; `threading.Event` fits."""

    def is_set(self) -> bool:
        """Say whether the run should end now."""


class Person(Protocol):
    """The operator, as a run sees one."""

    def answer(self, asked: Asked) -> str:
        """Wait for the answer to a question."""

    def signal(self) -> str | None:
        """Give the latest signal (a step made, a tap) since the last time, or None."""


@dataclass(frozen=True, slots=True)
class Limits:
    """What the hookup allows. Powers are what reaches the receiver; `loss_db` lies between source and receiver.

    `highest_by_point` says what each point of the receiver bears: once a run has had its leads moved, the source's new
    point sets the ceiling.
    """

    highest_power_dbm: float
    loss_db: float = 0.0
    lowest_frequency_hz: float = 0.0
    highest_frequency_hz: float = float("inf")
    highest_by_point: Mapping[str, float] = field(default_factory=dict)

    def with_source_at(self, point: str | None) -> "Limits":
        """Give what is allowed with the source at a point; the same where nothing is known of it."""
        highest_dbm = self.highest_by_point.get(point or "", self.highest_power_dbm)
        return dataclasses.replace(self, highest_power_dbm=highest_dbm)


def check_limits(request: Request, limits: Limits) -> None:
    """Refuse a request beyond the limits, in one sentence.

    Raises:
        LimitError: the request asks more than the hookup allows.
    """
    if isinstance(request, SetPower) and not request.power_dbm <= limits.highest_power_dbm:
        raise LimitError(
            f"The source level {request.power_dbm:g} dBm is above this hookup's ceiling of "
            f"{limits.highest_power_dbm:g} dBm; ask for that or less."
        )
    if isinstance(request, SetFrequency) and not (
        limits.lowest_frequency_hz <= request.frequency_hz <= limits.highest_frequency_hz
    ):
        raise LimitError(
            f"The frequency {request.frequency_hz:g} Hz is outside this hookup's range of "
            f"{limits.lowest_frequency_hz:g} to {limits.highest_frequency_hz:g} Hz; choose one inside it."
        )


def run(
    procedure: Procedure[T],
    bench: Bench,
    *,
    emit: Callable[[Event], None],
    stop: StopFlag,
    clock: Clock,
    limits: Limits,
    name: str,
    person: Person | None = None,
) -> T:
    """Carry out a procedure on a bench and give its outcome.

    Args:
        procedure: a generator that has not been started.
        bench: the instruments by role.
        emit: called with each event, in order, on this thread; an event is stored by the sink before it is shown.
        stop: looked at before each request and during waits.
        clock: the run's time.
        limits: what the hookup allows; each request is checked before it is carried out.
        name: what the run is called in its first event.
        person: who answers an `Ask` and signals during a `Tell`; None where nobody is there.

    Raises:
        Stopped: the stop flag was set.
        SequenceError: a limit, an instrument or the procedure itself ended the run; its text is for the person.
    """
    hand = _Hand(bench, emit=emit, stop=stop, clock=clock, limits=limits, person=person)
    ending, text = Ending.FAILED, "The run ended by a fault of the program."
    try:
        emit(RunStarted(name))
        outcome = _drive(procedure, hand)
        hand.check_source()  # what was read while somebody else had switched it off makes no complete run
        ending, text = Ending.COMPLETED, "The run is complete."
    except (Stopped, KeyboardInterrupt):
        ending, text = Ending.STOPPED, "The run was stopped."
        raise
    except SequenceError as error:
        text = str(error)
        raise
    finally:
        off = _make_safe(bench.source)
        with suppress(Exception):  # the procedure's own clean-up must not hide how the run ended
            procedure.close()
        emit(RunEnded(ending, text if off else f"{text} {UNCONFIRMED}", off))
    return outcome


UNCONFIRMED = "The source did not confirm that its output is off: switch it off at the instrument."


def _make_safe(source: Source | None) -> bool:
    return source is None or source.make_safe()


def _drive(procedure: Procedure[T], hand: "_Hand") -> T:
    reply: Any = None
    send = procedure.send
    carry_out = hand.carry_out
    try:
        while True:
            reply = carry_out(send(reply))
    except StopIteration as end:
        outcome: T = end.value
        return outcome


class _Once:
    """Work that is done once, however often a reading is asked for, and whose fault is none of the reading's."""

    def __init__(self, work: Callable[[], object]) -> None:
        self._work: Callable[[], object] | None = work
        self._fault: Exception | None = None

    def __call__(self) -> None:
        work, self._work = self._work, None
        if work is not None:
            try:
                work()
            except Exception as fault:  # noqa: BLE001 - raised by `finish`, once the reading is safe
                self._fault = fault

    def finish(self) -> None:
        """Do it if nobody did, and raise its fault."""
        self()
        if self._fault is not None:
            raise self._fault


class _Hand:
    """Carries out one request at a time and remembers how the source stands."""

    def __init__(
        self,
        bench: Bench,
        *,
        emit: Callable[[Event], None],
        stop: StopFlag,
        clock: Clock,
        limits: Limits,
        person: Person | None,
    ) -> None:
        self._bench = bench
        self._emit = emit
        self._stop = stop
        self._clock = clock
        self._limits = limits
        self._person = person
        self._began_s = clock.now()
        self._frequency_hz: float | None = None
        self._power_dbm: float | None = None
        self._readings = 0
        if bench.attend is not None and person is not None:
            bench.attend(self._by_hand)
        self._act: dict[type, Callable[[Any], Any]] = {
            SetFrequency: self._set_frequency,
            SetPower: self._set_power,
            SetOutput: self._set_output,
            Settle: self._settle,
            ReadMeter: self._read_meter,
            CountFrequency: self._count_frequency,
            LookAtClock: lambda _: self._now_s(),
            Ask: self._ask,
            Tell: self._tell,
        }

    def carry_out(self, request: Request) -> Any:  # noqa: ANN401 - each request has its own kind of reply
        if self._stop.is_set():
            raise Stopped("The run was stopped.")
        check_limits(request, self._limits)
        return self._act[type(request)](request)

    def check_source(self) -> None:
        """Ask the source whether it still stands as it was set.

        Raises:
            InstrumentFault: somebody else changed it, or it does not answer.
        """
        if self._bench.source is not None:
            self._persist(self._bench.source.check_standing)

    def _now_s(self) -> float:
        return self._clock.now() - self._began_s

    def _persist(self, action: Callable[[], R]) -> R:
        """Put one request to an instrument, again where its reply was lost: each of ours may be repeated."""
        attempt, away_since_s = 1, None
        while True:
            try:
                return action()
            except LinkAway as away:
                now_s = self._clock.now()
                if away_since_s is None:
                    away_since_s = now_s
                    self._emit(Notice(f"{away} Waiting for it, {LONGEST_OUTAGE_S:g} s at most."))
                if now_s - away_since_s >= LONGEST_OUTAGE_S:
                    raise
                self._wait(max(away.retry_s, FIRST_PAUSE_S))
            except ReplyLost as lost:
                if attempt == ATTEMPTS or self._stop.is_set():
                    raise
                self._emit(Notice(f"{lost} Asking again ({attempt} of {ATTEMPTS - 1})."))
                attempt += 1

    def _set_frequency(self, request: SetFrequency) -> None:
        source = self._source()
        self._persist(lambda: source.set_frequency(request.frequency_hz))
        self._frequency_hz = request.frequency_hz

    def _set_power(self, request: SetPower) -> None:
        source = self._source()
        self._persist(lambda: source.set_power(request.power_dbm + self._limits.loss_db))
        self._power_dbm = request.power_dbm

    def _set_output(self, request: SetOutput) -> None:
        if self._bench.source is None and not request.on:
            return  # what is not there is off: a counter alone serves some steps
        source = self._source()
        self._persist(lambda: source.set_output(request.on))
        self._emit(SourceChanged(self._now_s(), self._frequency_hz, self._power_dbm, request.on))

    def _settle(self, request: Settle) -> None:
        self._wait(request.duration_s)

    def _wait(self, duration_s: float) -> None:
        """Wait, and hear the stop meanwhile."""
        until_s = self._clock.now() + duration_s
        while (left_s := until_s - self._clock.now()) > 0:
            if self._stop.is_set():
                raise Stopped("The run was stopped.")
            self._clock.sleep(min(left_s, LONGEST_NAP_S))

    def _read_meter(self, request: ReadMeter) -> ReadingTaken:
        meter = self._meter()
        if request.meanwhile is None:
            return self._taken("meter", request.purpose, "V", self._persist(meter.read_voltage))
        work = _Once(request.meanwhile)
        reply = self._persist(lambda: meter.read_voltage(work))
        reading = self._taken("meter", request.purpose, "V", reply)
        work.finish()
        return reading

    def _count_frequency(self, request: CountFrequency) -> ReadingTaken:
        counter = self._counter()
        reply = self._persist(lambda: counter.read_frequency(request.gate_s))
        return self._taken("counter", request.purpose, "Hz", reply)

    def _taken(self, role: str, purpose: str, unit: str, reply: MeterReply) -> ReadingTaken:
        reading = ReadingTaken(
            index=self._readings,
            time_s=self._now_s(),
            role=role,
            purpose=purpose,
            value=reply.value if reply.mark is Mark.GOOD else None,
            unit=unit,
            mark=reply.mark,
            frequency_hz=self._frequency_hz,
            power_dbm=self._power_dbm,
        )
        self._readings += 1
        self._emit(reading)
        return reading

    def _ask(self, request: Ask) -> str:
        asked = Asked(request.action, request.subject, request.text, request.answers, request.detail)
        self._refuse_deaf_ears(asked)
        self._emit(asked)
        if self._person is None:
            raise SequenceError(f"This step needs a person, and nobody is there to answer: {request.text}")
        answer = self._person.answer(asked)
        if isinstance(question := asked.question, ConnectLeads):
            self._limits = self._limits.with_source_at(question.source.to)
        return answer

    def _refuse_deaf_ears(self, asked: Asked) -> None:
        """Refuse a lead to where a sound input hears nothing: the sound of the receiver is no oscillator's count."""
        question = asked.question
        if not isinstance(question, ConnectLeads):
            return
        for role in self._bench.hears:
            to = question.leads()[role].to
            if to is not None and not any(word in to.lower() for word in HEARD_AT):
                raise SequenceError(
                    f"The {role} is the sound input and cannot be connected to {to}. "
                    f"Choose another method for this step, or name a {role} in the bench file."
                )

    def _by_hand(self, role: str, question: str) -> str:
        """Put the question of an instrument that is a person."""
        asked = Asked(BY_HAND, role, question, ())
        self._emit(asked)
        if self._person is None:
            raise SequenceError(f"The {role} is a person, and nobody is there to be asked.")
        return self._person.answer(asked)

    def _tell(self, request: Tell) -> str | None:
        event = request.event
        self._emit(dataclasses.replace(event, time_s=self._now_s()) if isinstance(event, Guidance) else event)
        return None if self._person is None else self._person.signal()

    def _source(self) -> Source:
        if self._bench.source is None:
            raise InstrumentFault("No signal source is connected; name one in the bench file and look again.")
        return self._bench.source

    def _meter(self) -> Meter:
        if self._bench.meter is None:
            raise InstrumentFault("No meter is connected; name one in the bench file and look again.")
        return self._bench.meter

    def _counter(self) -> Counter:
        if self._bench.counter is None:
            raise InstrumentFault("No frequency counter is connected; name one in the bench file and look again.")
        return self._bench.counter
