"""Faults ordered through the hands, seen on the wire."""

from collections.abc import Callable

import pytest

from simulators.bench import BenchOptions
from simulators.instruments.delays import Delays
from simulators.workbench import BenchSettings
from tests.simulators.benches import Bench, Line

OPTIONS = BenchOptions(BenchSettings(seed=4, receiver_id="skerry-7"), Delays.none(), late_s=1.0)
Opener = Callable[[BenchOptions], Bench]


def test_a_lost_reply_is_lost_and_the_next_comes(open_bench: Opener) -> None:
    """Two pass, one is lost, and all after it pass again."""
    bench = open_bench(OPTIONS)
    bench.do(do="fault", instrument="meter", kind="lost", after=2, count=1)

    for _ in range(4):
        bench.meter.send("*TST?")
    bench.meter.send("*IDN?")

    assert [bench.meter.receive() for _ in range(3)] == ["0", "0", "0"]
    assert bench.meter.receive().startswith("Peakwright")


def test_a_late_reply_comes_after_the_deadline_it_was_meant_to_miss(open_bench: Opener) -> None:
    """It is whole, only late."""
    bench = open_bench(OPTIONS)
    bench.do(do="fault", instrument="source", kind="late")
    bench.source.socket.settimeout(0.05)

    with pytest.raises(TimeoutError):
        bench.source.ask("*TST?")

    bench.source.socket.settimeout(60.0)
    assert bench.source.receive() == "0"


def test_a_cut_line_ends_in_the_middle_of_a_reply_and_takes_new_calls(open_bench: Opener) -> None:
    """Half a reply without its terminator, then nothing."""
    bench = open_bench(OPTIONS)
    whole = bench.counter.ask("*IDN?")
    bench.do(do="fault", instrument="counter", kind="cut")

    half = bench.counter.ask("*IDN?")

    assert whole.startswith(half)
    assert len(half) < len(whole)
    again = Line(bench.port("counter"))
    assert again.ask("*IDN?") == whole
    again.close()


def test_a_garbled_reply_is_no_number_and_keeps_its_terminator(open_bench: Opener) -> None:
    """Even a reply of one character is spoiled."""
    bench = open_bench(OPTIONS)
    bench.do(do="fault", instrument="meter", kind="garbled", count=20)

    for _ in range(10):
        assert bench.meter.ask("*TST?") != "0"
        with pytest.raises(ValueError, match="could not convert"):
            float(bench.meter.ask("READ?"))
    assert bench.meter.ask("*TST?") == "0"


def test_an_overload_reads_as_scpi_says(open_bench: Opener) -> None:
    """9.9E37 (SCPI-99 volume 1, section 7.2.1, from memory)."""
    bench = open_bench(OPTIONS)
    bench.do(do="fault", instrument="meter", kind="overload", after=1, count=2)

    readings = [bench.meter.number("READ?") for _ in range(4)]

    assert [reading == 9.9e37 for reading in readings] == [False, True, True, False]


@pytest.mark.parametrize(
    ("kind", "lines"),
    [
        ("doubled", ["1", "1", "0", "1"]),  # the copy comes in front of the next answer
        ("merged", ["10", "1"]),
        ("reordered", ["0", "1", "1"]),
        ("shortened", ["", "0", "1"]),
    ],
)
def test_answers_are_doubled_merged_reordered_and_shortened(open_bench: Opener, kind: str, lines: list[str]) -> None:
    """The answers to *OPC?, *TST? and *OPC? are 1, 0 and 1; the fault strikes the first."""
    bench = open_bench(OPTIONS)
    bench.do(do="fault", instrument="meter", kind=kind)

    for question in ("*OPC?", "*TST?", "*OPC?"):
        bench.meter.send(question)

    assert [bench.meter.receive() for _ in lines] == lines


def test_the_same_seed_garbles_alike(open_bench: Opener) -> None:
    """So a failing test fails again."""
    replies = []
    for _ in range(2):
        bench = open_bench(OPTIONS)
        bench.do(do="fault", instrument="meter", kind="garbled", count=3)
        replies.append([bench.meter.ask("*IDN?") for _ in range(3)])

    assert replies[0] == replies[1]


@pytest.mark.parametrize(
    ("request_fields", "told"),
    [
        ({"instrument": "toaster", "kind": "late"}, "no instrument 'toaster'"),
        ({"instrument": "meter", "kind": "sulking"}, "no fault 'sulking'"),
        ({"instrument": "meter", "kind": "late", "after": -1}, "'after' must be a whole number"),
        ({"instrument": "meter", "kind": "late", "count": "two"}, "'count' must be a whole number"),
    ],
)
def test_a_fault_that_makes_no_sense_is_refused_in_a_sentence(
    open_bench: Opener, request_fields: dict[str, object], told: str
) -> None:
    """Nothing is ordered then."""
    bench = open_bench(OPTIONS)

    reply = bench.hands(do="fault", **request_fields)

    assert reply["ok"] is False
    assert told in reply["error"]
    assert bench.meter.ask("*TST?") == "0"
