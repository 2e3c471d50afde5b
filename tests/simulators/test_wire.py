"""The wire, spoken to over plain sockets."""

import json
import threading
from collections.abc import Callable

from simulators.bench import BenchOptions, PracticeBench
from simulators.instruments.delays import Delays
from simulators.workbench import BenchSettings
from tests.simulators.benches import Bench, Line

INSTANT = BenchOptions(BenchSettings(seed=1, receiver_id="skerry-7"), Delays.none())
Opener = Callable[[BenchOptions], Bench]


def test_every_instrument_says_what_it_is(open_bench: Opener) -> None:
    """IEEE 488.2 section 10.14: four fields, by commas."""
    bench = open_bench(INSTANT)

    names = [line.ask("*IDN?").split(",") for line in (bench.source, bench.meter, bench.counter)]

    assert [fields[:2] for fields in names] == [
        ["Peakwright Practice", "Signal Source"],
        ["Peakwright Practice", "Multimeter"],
        ["Peakwright Practice", "Counter"],
    ]
    assert all(len(fields) == 4 for fields in names)


def test_a_message_may_arrive_in_pieces_and_several_in_one(open_bench: Opener) -> None:
    """TCP knows no messages; only the terminator ends one."""
    line = open_bench(INSTANT).source

    line.socket.sendall(b"*ID")
    line.socket.sendall(b"N?\nFREQ?\r\n*OPC?\n")

    assert [line.receive()[:10], line.receive(), line.receive()] == ["Peakwright", "+1.000000000000E+06", "1"]


def test_many_clients_at_once_each_get_their_own_answers(open_bench: Opener) -> None:
    """A hundred clients connect before any is served."""
    bench = open_bench(INSTANT)
    lines = [Line(bench.port("counter")) for _ in range(100)]

    for number, line in enumerate(lines):
        line.send("*IDN?" if number % 2 else "*TST?")
    answers = [line.receive() for line in lines]

    assert answers[0::2] == ["0"] * 50
    assert all(answer.startswith("Peakwright Practice,Counter") for answer in answers[1::2])
    for line in lines:
        line.close()


def test_a_query_that_fails_answers_nothing_and_the_next_is_answered_right(open_bench: Opener) -> None:
    """So a client must not mistake the next answer for the missing one."""
    meter = open_bench(INSTANT).meter

    meter.send("MEAS:RES?")

    assert meter.ask("SYST:ERR?") == '-113,"Undefined header;MEAS:RES?"'


def test_an_endless_line_is_an_overrun_and_the_line_stays_usable(open_bench: Opener) -> None:
    """SCPI-99 number -363."""
    meter = open_bench(INSTANT).meter

    meter.socket.sendall(b"X" * (3 << 20))
    meter.send("")

    found = [meter.ask("SYST:ERR?") for _ in range(3)]
    assert '-363,"Input buffer overrun"' in found


def test_stopping_ends_a_wait_and_cuts_every_client() -> None:
    """A bench must not outlive its parent by the time of a reading."""
    practice = PracticeBench(BenchOptions(INSTANT.settings, Delays(meter=3600.0)))
    practice.start()
    bench = Bench(practice.addresses)
    bench.meter.send("READ?")
    stopper = threading.Thread(target=practice.stop)

    stopper.start()
    stopper.join(60.0)

    assert not stopper.is_alive()
    assert bench.source.receive() == ""
    bench.close()


def test_the_hands_answer_every_line_with_one_line_of_json(open_bench: Opener) -> None:
    """Even where the line is no request at all."""
    bench = open_bench(INSTANT)
    line = Line(bench.port("hands"))

    for nonsense in ("{", "[]", "null", '{"do":"dance"}', '{"do":"turn"}'):
        reply = json.loads(line.ask(nonsense))
        assert reply["ok"] is False
        assert reply["error"].endswith(".")
    line.close()
