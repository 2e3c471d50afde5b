"""However a run ends, the source's output is off before anything else; and every request is checked first."""

from collections.abc import Callable, Generator
from typing import Any

import pytest

from sequences.engine.events import Asked, Ending, Event, Notice, ReadingTaken, RunEnded, RunStarted
from sequences.engine.instruments import Bench, Mark, MeterReply
from sequences.engine.questions import ConnectLeads, Lead
from sequences.engine.rehearse import PaperBench, rehearse
from sequences.engine.requests import Ask, ReadMeter, Request, SetFrequency, SetOutput, SetPower, Settle, asking
from sequences.engine.run import ATTEMPTS, LONGEST_OUTAGE_S, Limits, Person, Procedure, run
from sequences.engine.steps import ask, read_meter, set_frequency, set_output, set_power, settle
from sequences.errors import InstrumentFault, LimitError, LinkAway, ReplyLost, SequenceError, Stopped
from tests.fakes import FakeClock, FakeMeter, FakeSource, Sink, StopAfter

LIMITS = Limits(highest_power_dbm=-30.0, loss_db=6.0, lowest_frequency_hz=1e3, highest_frequency_hz=30e6)


def look_once() -> Generator[Request, Any, float | None]:
    """Switch on, read once, and leave the output on: making it safe is the engine's business."""
    yield from set_frequency(455e3)
    yield from set_power(-60.0)
    yield from set_output(True)
    yield from settle(0.2)
    reading = yield from read_meter("scan")
    return reading.value


def carry_out(
    procedure: Procedure[Any],
    source: FakeSource,
    *,
    sink: Callable[[Event], None] | None = None,
    stop: StopAfter | None = None,
    person: Person | None = None,
    clock: FakeClock | None = None,
    reply: MeterReply = MeterReply(1.5),  # noqa: B008 - frozen
) -> tuple[Any, Sink]:
    """Run on fake instruments; the events are kept, and passed on to another sink where a test gives one."""
    events = Sink(onward=sink)
    bench = Bench(source=source, meter=FakeMeter(source, lambda _: reply))
    outcome = run(
        procedure,
        bench,
        emit=events,
        stop=stop or StopAfter(),
        clock=clock or FakeClock(),
        limits=LIMITS,
        name="a look",
        person=person,
    )
    return outcome, events


def test_a_completed_run_gives_its_outcome_and_switches_the_output_off() -> None:
    """The procedure left it on; the engine did not."""
    source = FakeSource()

    outcome, sink = carry_out(look_once(), source)

    assert outcome == 1.5
    assert source.calls[-1] == ("safe", None)
    assert not source.output_on
    assert sink.events[0] == RunStarted("a look")
    assert sink.events[-1] == RunEnded(Ending.COMPLETED, "The run is complete.", output_off=True)


def test_a_source_that_is_not_there_is_off_already() -> None:
    """A step with a counter alone may say so; switching it on is refused."""

    def switch(on: bool) -> Procedure[None]:
        yield from set_output(on)

    def carry_out_without_source(procedure: Procedure[None]) -> None:
        run(procedure, Bench(), emit=Sink(), stop=StopAfter(), clock=FakeClock(), limits=LIMITS, name="a look")

    carry_out_without_source(switch(False))
    with pytest.raises(InstrumentFault, match="No signal source"):
        carry_out_without_source(switch(True))


def test_the_loss_between_source_and_receiver_is_added_to_the_power_set() -> None:
    """The procedure speaks of the receiver, the driver of the source's connector."""
    source = FakeSource()

    _, sink = carry_out(look_once(), source)

    assert ("power", -54.0) in source.calls
    (reading,) = sink.of(ReadingTaken)
    assert isinstance(reading, ReadingTaken)
    assert (reading.frequency_hz, reading.power_dbm, reading.unit) == (455e3, -60.0, "V")


@pytest.mark.parametrize(
    ("request_", "word"),
    [(SetPower(-20.0), "ceiling"), (SetPower(float("nan")), "ceiling"), (SetFrequency(50e6), "outside")],
)
def test_a_request_beyond_the_limits_is_refused_unsent(request_: Request, word: str) -> None:
    """Nothing reaches the source but the order to be safe."""
    source = FakeSource()

    def ask_too_much() -> Generator[Request, Any, None]:
        yield request_

    with pytest.raises(LimitError, match=word):
        carry_out(ask_too_much(), source)

    assert source.calls == [("safe", None)]


def test_a_stop_is_heard_before_the_next_request_and_during_a_wait() -> None:
    """A wait of an hour does not hold up a stop."""
    source = FakeSource()

    def wait_an_hour() -> Generator[Request, Any, None]:
        yield SetOutput(True)
        yield Settle(3600.0)

    sink = Sink()
    with pytest.raises(Stopped):
        carry_out(wait_an_hour(), source, sink=sink, stop=StopAfter(5))

    assert not source.output_on
    assert sink.events[-1] == RunEnded(Ending.STOPPED, "The run was stopped.", output_off=True)


@pytest.mark.parametrize("error", [InstrumentFault("gone"), RuntimeError("a fault of ours"), KeyboardInterrupt()])
def test_whatever_breaks_a_run_the_output_is_off_and_the_end_is_told(error: BaseException) -> None:
    """Instrument, program or Ctrl-C."""
    source = FakeSource()
    sink = Sink()

    def break_off() -> Generator[Request, Any, None]:
        yield SetOutput(True)
        raise error

    with pytest.raises(type(error)):
        carry_out(break_off(), source, sink=sink)

    assert source.calls[-1] == ("safe", None)
    assert isinstance(sink.events[-1], RunEnded)


def test_a_sink_that_breaks_does_not_leave_the_output_on() -> None:
    """A full disk, say."""
    source = FakeSource()

    def full_disk(event: Event) -> None:
        if isinstance(event, ReadingTaken):
            raise OSError("no space left")

    with pytest.raises(OSError, match="no space"):
        carry_out(look_once(), source, sink=full_disk)

    assert source.calls[-1] == ("safe", None)


def test_a_procedure_that_yields_while_it_is_closed_cannot_keep_the_output_on() -> None:
    """The order to be safe comes before the procedure's own clean-up."""
    source = FakeSource()

    def cling() -> Generator[Request, Any, None]:
        try:
            yield SetOutput(True)
            yield SetFrequency(455e3)
        finally:
            yield SetOutput(True)

    with pytest.raises(Stopped):
        carry_out(cling(), source, stop=StopAfter(1))

    assert source.calls[-1] == ("safe", None)


def test_an_unconfirmed_output_is_said_to_the_person() -> None:
    """They can still pull the plug."""
    source = FakeSource(confirms=False)

    _, sink = carry_out(look_once(), source)

    end = sink.events[-1]
    assert isinstance(end, RunEnded)
    assert not end.output_off
    assert "did not confirm" in end.text


def test_a_lost_reply_is_asked_for_again_and_said() -> None:
    """Each request may be repeated without harm."""
    source = FakeSource(faults=iter([ReplyLost("The source's reply was cut.")]))

    outcome, sink = carry_out(look_once(), source)

    assert outcome == 1.5
    assert len(sink.of(Notice)) == 1


def test_an_instrument_that_is_away_for_a_while_costs_a_pause_and_one_notice() -> None:
    """A cable that was pulled for five seconds: every second it is tried again."""
    source = FakeSource(faults=iter([ReplyLost("The link broke."), *[LinkAway("Nobody answers.", 1.0)] * 5]))
    clock = FakeClock()

    outcome, sink = carry_out(look_once(), source, clock=clock)

    assert outcome == 1.5
    told = [event.text.partition(".")[0] for event in sink.events if isinstance(event, Notice)]
    assert told == ["The link broke", "Nobody answers"]
    assert clock.slept_s == pytest.approx(5.2)


def test_an_instrument_that_stays_away_ends_the_run() -> None:
    """After fifteen seconds."""
    source = FakeSource(faults=iter([LinkAway("Nobody answers.", 1.0)] * 100))
    clock = FakeClock()

    with pytest.raises(LinkAway, match="Nobody answers"):
        carry_out(look_once(), source, clock=clock)

    assert clock.slept_s == pytest.approx(LONGEST_OUTAGE_S, abs=1.0)
    assert source.calls[-1] == ("safe", None)


def test_a_reply_that_stays_lost_ends_the_run() -> None:
    """Bounded, with the instrument's own sentence."""
    source = FakeSource(faults=iter([ReplyLost("The source does not answer.")] * ATTEMPTS))

    with pytest.raises(ReplyLost, match="does not answer"):
        carry_out(look_once(), source)

    assert source.calls[-1] == ("safe", None)


def test_an_overload_is_no_value() -> None:
    """9.9E37 is a mark, never a reading."""
    outcome, sink = carry_out(look_once(), FakeSource(), reply=MeterReply(9.9e37, Mark.OVERLOAD))

    assert outcome is None
    (reading,) = sink.of(ReadingTaken)
    assert isinstance(reading, ReadingTaken)
    assert (reading.value, reading.mark) == (None, Mark.OVERLOAD)


def test_a_missing_role_is_one_sentence() -> None:
    """No attribute error of ours reaches the person."""
    with pytest.raises(InstrumentFault, match="No signal source"):
        run(look_once(), Bench(), emit=Sink(), stop=StopAfter(), clock=FakeClock(), limits=LIMITS, name="x")


def test_a_question_waits_for_the_person_and_without_one_is_refused() -> None:
    """A robot or a page answers; a script cannot."""

    class Robot:
        def answer(self, asked: Asked) -> str:
            return f"{asked.subject} {asked.answers[0]}"

        def signal(self) -> str | None:
            return None

    def question() -> Generator[Request, Any, str]:
        return (yield from ask(Ask("connect", "source", "Connect the source to the third mixer.")))

    outcome, sink = carry_out(question(), FakeSource(), person=Robot())
    assert outcome == "source done"
    assert len(sink.of(Asked)) == 1
    with pytest.raises(SequenceError, match="needs a person"):
        carry_out(question(), FakeSource())


def test_a_rehearsal_lists_the_requests_and_checks_limits_without_instruments() -> None:
    """What would be asked, before anything is switched on."""
    rehearsal = rehearse(look_once(), PaperBench(lambda frequency_hz, _: frequency_hz / 1e6), LIMITS)

    assert rehearsal.outcome == 0.455
    assert rehearsal.requests[0] == SetFrequency(455e3)
    assert rehearsal.requests[-1] == ReadMeter("scan")
    with pytest.raises(LimitError):
        rehearse(look_once(), PaperBench(lambda *_: 0.0), Limits(highest_power_dbm=-70.0))


def test_a_sound_input_is_not_taken_for_an_oscillators_count() -> None:
    """A beat note of some 800 Hz read as an oscillator's frequency would be silently wrong."""

    def connects() -> Generator[Request, Any, None]:
        yield asking(ConnectLeads(counter=Lead("third oscillator", "a loose pick-up")), "Connect the counter.")

    with pytest.raises(SequenceError, match="counter is the sound input and cannot be connected to third oscillator"):
        run(
            connects(),
            Bench(hears=("counter",)),
            emit=Sink(),
            stop=StopAfter(),
            clock=FakeClock(),
            limits=LIMITS,
            name="a look",
        )


def test_work_meanwhile_is_done_once_though_a_reading_is_asked_for_twice() -> None:
    """A meter that does it at every call: the engine sees to the once."""
    done: list[str] = []
    replies: list[ReplyLost | MeterReply] = [ReplyLost("No reply."), MeterReply(1.5)]

    class LosesOne(FakeMeter):
        def read_voltage(self, meanwhile: Callable[[], object] | None = None) -> MeterReply:
            if meanwhile is not None:
                meanwhile()
            reply = replies.pop(0)
            if isinstance(reply, ReplyLost):
                raise reply
            return reply

    source = FakeSource()
    reading = run(
        read_meter("scan", lambda: done.append("once")),
        Bench(source=source, meter=LosesOne(source, lambda _: MeterReply(0.0))),
        emit=Sink(),
        stop=StopAfter(),
        clock=FakeClock(),
        limits=LIMITS,
        name="a look",
    )

    assert (reading.value, done, replies) == (1.5, ["once"], [])


def test_work_meanwhile_is_done_by_a_meter_that_does_not_do_it_and_its_fault_loses_no_reading() -> None:
    """The fake meter leaves it to the engine."""
    kept = Sink()

    def breaks() -> None:
        raise SequenceError("The fit broke.")

    with pytest.raises(SequenceError, match="The fit broke"):
        carry_out(read_meter("scan", breaks), FakeSource(), sink=kept)

    assert [event.value for event in kept.events if isinstance(event, ReadingTaken)] == [1.5]
