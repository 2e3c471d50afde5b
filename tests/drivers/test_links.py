"""Whole drivers over real loopback sockets: instruments that are late, lost, shared, restarted or old-fashioned."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import pytest

from drivers.dialect import Model, SourceDialect
from drivers.errors import InstrumentChangedError, LinkLostError, NotConnectedError, PowerNotSetError, ReplyTimeoutError
from drivers.instrument import Instrument
from drivers.meters import meter_on, open_meter
from drivers.sources import open_source
from drivers.transport import VisaTransport
from tests.drivers.peers import NAME, Connection, Peer, answering, echoing, wait_until
from tests.fakes import FakeClock

SHORT_S = 0.5
"""For answers that never come; those that do must come in it, on a busy machine too."""

ROW = Model("Invented Works", "Thing 1", source=SourceDialect())


@dataclass
class Bench:
    """A source and meter in one, that understands one unit of a message at a time."""

    name: str = NAME
    settings: dict[str, str] = field(default_factory=lambda: {":FREQ": "1E9", ":POW": "-20", ":OUTP": "1"})
    reading: str = "+1.000000E-01"
    register: str = "0"

    def unit(self, unit: str) -> str | None:
        """Answer one unit; None for a setting."""
        header, _, value = unit.partition(" ")
        fixed = {
            "*IDN?": self.name,
            "*OPC?": "1",
            ":SYST:ERR?": '0,"No error"',
            ":READ?": self.reading,
            "*ESE?": self.register,
            "*CLS": None,
            ":CONF:VOLT:DC": None,
        }
        if header == "*ESE":
            self.register = value
            return None
        if header in fixed:
            return fixed[header]
        if header.endswith("?"):
            return self.settings[header[:-1]]
        self.settings[header] = {"ON": "1", "OFF": "0"}.get(value, value.removesuffix(" DBM"))
        return None

    def message(self, message: str) -> str | None:
        """Answer a compound message."""
        replies = [reply for unit in message.split(";") if (reply := self.unit(unit)) is not None]
        return ";".join(replies) or None

    def power_cycle(self) -> None:
        """Come back with the settings of the factory."""
        self.settings = {":FREQ": "1E9", ":POW": "-20", ":OUTP": "0"}


class DropsOnce:
    """Serves a bench, and hangs up once after the given number of messages."""

    def __init__(self, bench: Bench, after: int) -> None:
        self._bench = bench
        self._left = after
        self.dropped = threading.Event()

    def __call__(self, connection: Connection) -> None:
        """Serve one client."""
        while (message := connection.line()) is not None:
            reply = self._bench.message(message)
            if reply is not None:
                connection.say(reply.encode() + b"\n")
            self._left -= 1
            if self._left == 0:
                connection.hang_up()
                self.dropped.set()
                return


def test_a_sweep_over_real_sockets_reads_what_the_instruments_say() -> None:
    """Source and meter each on its own link."""
    bench = Bench()
    with Peer(answering(bench.message)) as peer:
        source = open_source(peer.address, ceiling_dbm=-10.0)
        meter = open_meter(peer.address)
        assert bench.settings[":OUTP"] == "0"
        source.set_power(-60.0)
        source.set_output(True)
        volts = []
        for n in range(20):
            source.set_frequency(455e3 + n)
            bench.reading = f"{n}"
            volts.append(meter.read_voltage())
        on = source.output_is_on()
        source.close()
        meter.close()

    assert (volts, on) == (list(range(20)), True)
    assert bench.settings == {":FREQ": "455019", ":POW": "-60", ":OUTP": "0"}


def test_an_instrument_that_splits_only_lines_works_all_the_same() -> None:
    """It takes `A;B` for one unknown word and says nothing."""
    bench = Bench()

    def line(message: str) -> str | None:
        return None if ";" in message else bench.unit(message)

    with Peer(answering(line)) as peer:
        source = open_source(peer.address, ceiling_dbm=0.0, timeout_s=SHORT_S)
        source.set_frequency(60e3)
        source.set_power(-40.0)
        source.set_output(True)
        assert bench.settings == {":FREQ": "60000", ":POW": "-40", ":OUTP": "1"}
        assert source.make_safe().confirmed
        source.close()


def test_an_instrument_that_answers_every_unit_on_a_line_of_its_own_is_never_misread() -> None:
    """Its second line would pass for the next answer."""
    bench = Bench()

    def behave(connection: Connection) -> None:
        while (message := connection.line()) is not None:
            for unit in message.split(";"):
                if (reply := bench.unit(unit)) is not None:
                    connection.say(reply.encode() + b"\r\n")

    with Peer(behave) as peer:
        meter = open_meter(peer.address, timeout_s=2.0)
        bench.reading = "0.25"

        assert [meter.read_voltage() for _ in range(5)] == [0.25] * 5
        meter.close()


def test_a_late_reading_is_lost_and_never_taken_for_the_next() -> None:
    """The reading after it is its own."""
    release = threading.Event()
    bench = Bench()

    def late(message: str) -> str | None:
        if message == ":READ?" and bench.reading == "1":
            bench.reading = "2"
            release.wait()
            return "1"
        return bench.message(message)

    with Peer(answering(echoing(late))) as peer:
        meter = open_meter(peer.address, timeout_s=SHORT_S)
        bench.reading = "1"
        with pytest.raises(ReplyTimeoutError):
            meter.read_voltage()
        release.set()

        assert meter.read_voltage() == 2.0
        meter.close()


def test_a_late_reading_that_comes_over_the_new_link_is_not_taken_either() -> None:
    """Some gateways hand a late reply to whoever is connected by then."""
    bench = Bench()
    clock = FakeClock()

    def gateway(connection: Connection) -> None:
        if bench.reading == "2":
            bench.reading = "3"
            connection.say(b"1\n")
        while (message := connection.line()) is not None:
            if ":READ?" in message and bench.reading == "1":
                bench.reading = "2"
            elif (reply := bench.message(message)) is not None:
                connection.say(reply.encode() + b"\n")

    with Peer(gateway) as peer:
        meter = meter_on(VisaTransport(peer.address), timeout_s=SHORT_S, clock=clock.now)
        bench.reading = "1"
        with pytest.raises(ReplyTimeoutError):
            meter.read_voltage()
        clock.sleep(1.0)

        assert meter.read_voltage() == 3.0
        meter.close()


def test_an_instrument_that_drops_idle_clients_is_found_again_without_a_word() -> None:
    """Between two readings."""
    bench = Bench()
    drops = DropsOnce(bench, after=5)
    with Peer(drops) as peer:
        meter = open_meter(peer.address)  # four messages
        assert meter.read_voltage() == 0.1
        drops.dropped.wait()
        wait_until(lambda: meter.state == "lost")

        assert meter.read_voltage() == 0.1
        assert meter.state == "ready"
        meter.close()


def test_a_source_that_was_switched_off_and_on_ends_the_run_with_its_output_off() -> None:
    """Its frequency and power are those of the factory now."""
    bench = Bench()
    drops = DropsOnce(bench, after=7)
    with Peer(drops) as peer:
        source = open_source(peer.address, ceiling_dbm=-10.0)  # five messages, for a name no row knows
        source.set_power(-60.0)
        source.set_output(True)
        drops.dropped.wait()
        bench.power_cycle()
        wait_until(lambda: source.state == "lost")
        with pytest.raises(InstrumentChangedError, match="output was on and is now off"):
            source.set_frequency(455e3)

        assert bench.settings[":OUTP"] == "0"
        assert "is not as it was left" in (source.last_error or "")
        assert source.make_safe().confirmed
        source.close()


def test_an_instrument_that_serves_one_client_at_a_time_says_so_to_the_second() -> None:
    """The second connection is taken by the kernel and answered by nobody."""
    with Peer(answering(Bench().message), one_at_a_time=True) as peer:
        first = open_meter(peer.address, timeout_s=SHORT_S)
        with pytest.raises(NotConnectedError, match="another program may be using it"):
            open_meter(peer.address, timeout_s=SHORT_S)
        first.close()

        second = open_meter(peer.address, timeout_s=2.0)
        assert second.read_voltage() == 0.1
        second.close()


def test_one_client_at_a_time_and_a_late_reply_still_leave_a_way_back() -> None:
    """The old link is dropped before the new one is opened, or the instrument would never look at the new one."""
    bench = Bench()

    def late(message: str) -> str | None:
        if message == ":READ?" and bench.reading == "late":
            bench.reading = "3"
            return None
        return bench.message(message)

    with Peer(answering(echoing(late)), one_at_a_time=True) as peer:
        meter = open_meter(peer.address, timeout_s=SHORT_S)
        bench.reading = "late"
        with pytest.raises(ReplyTimeoutError):
            meter.read_voltage()

        assert meter.read_voltage() == 3.0
        meter.close()


def test_two_threads_never_get_each_others_answers() -> None:
    """One lock for each instrument, from the question to its answer."""

    def number(message: str) -> str | None:
        return message.removeprefix("N").removesuffix("?") if message.startswith("N") else Bench().message(message)

    with Peer(answering(echoing(number))) as peer:
        instrument = Instrument(VisaTransport(peer.address))
        instrument.open()

        def ask(first: int) -> int:
            return sum(instrument.query_number(f"N{n}?") != n for n in range(first, first + 500))

        with ThreadPoolExecutor(4) as pool:
            wrong = sum(pool.map(ask, [0, 1000, 2000, 3000]))
        instrument.close()

    assert wrong == 0


def test_the_state_can_be_asked_for_while_an_exchange_runs() -> None:
    """The page must not wait for a slow counter."""
    asked, release = threading.Event(), threading.Event()
    tried = iter([True])

    def slow(message: str) -> str | None:
        if message == ":READ?" and not next(tried, False):
            asked.set()
            release.wait()
        return Bench().message(message)

    with Peer(answering(echoing(slow))) as peer, ThreadPoolExecutor(1) as pool:
        meter = open_meter(peer.address, timeout_s=30.0)
        reading = pool.submit(meter.read_voltage)
        asked.wait()

        assert meter.state == "ready"
        release.set()
        assert reading.result() == 0.1
        meter.close()


def test_a_source_whose_link_breaks_while_it_is_on_can_still_be_made_safe() -> None:
    """Over a new link."""
    bench = Bench()

    def breaks(connection: Connection) -> None:
        while (message := connection.line()) is not None:
            if ":FREQ 13" in message:
                return
            if (reply := bench.message(message)) is not None:
                connection.say(reply.encode() + b"\n")

    with Peer(breaks) as peer:
        source = open_source(peer.address, ceiling_dbm=0.0)
        source.set_power(-60.0)
        source.set_output(True)
        with pytest.raises(LinkLostError):
            source.set_frequency(13.0)
        assert bench.settings[":OUTP"] == "1"

        assert source.make_safe().confirmed
        assert bench.settings[":OUTP"] == "0"
        source.close()


def test_a_source_that_hears_but_no_longer_speaks_is_switched_off_and_reported() -> None:
    """The report does not claim what was not confirmed."""
    bench = Bench()
    mute = threading.Event()

    def behave(message: str) -> str | None:
        reply = bench.message(message)
        return None if mute.is_set() else reply

    with Peer(answering(echoing(behave))) as peer:
        source = open_source(peer.address, ceiling_dbm=0.0, timeout_s=SHORT_S)
        source.set_power(-60.0)
        source.set_output(True)
        mute.set()
        report = source.make_safe()

        assert not report.confirmed
        wait_until(lambda: bench.settings[":OUTP"] == "0")
        source.close()


def test_an_output_let_through_before_making_safe_is_not_on_after_it() -> None:
    """The page's thread switches off while the worker's is about to switch on and waits for a slow answer."""
    bench = Bench()
    asked, release = threading.Event(), threading.Event()

    def slow(message: str) -> str | None:
        if message == ":POW?":
            asked.set()
            release.wait()
        return bench.message(message)

    with Peer(answering(echoing(slow))) as peer, ThreadPoolExecutor(3) as pool:
        source = open_source(peer.address, ceiling_dbm=0.0, timeout_s=30.0, models=(ROW,))
        source.set_power(-60.0)
        busy = pool.submit(source._instrument.query_number, ":POW?")  # noqa: SLF001 - to keep the link busy
        asked.wait()
        on = pool.submit(source.set_output, True)
        safe = pool.submit(source.make_safe)
        release.set()
        busy.result()
        refused = on.exception()
        report = safe.result()

        assert report.confirmed
        assert refused is None or isinstance(refused, PowerNotSetError)
        assert bench.settings[":OUTP"] == "0"
        source.close()


def test_a_gateway_that_takes_the_connection_and_closes_it_is_told_in_a_sentence_and_held_back() -> None:
    """As one does whose instrument is off: asked again at once, it would be asked for ever."""
    connections: list[Connection] = []
    with Peer(connections.append) as peer:
        meter = Instrument(VisaTransport(peer.address), clock=FakeClock().now)
        with pytest.raises(NotConnectedError, match="takes the connection and drops it before it says its name"):
            meter.open()
        assert meter.retry_s > 0.0

        with pytest.raises(NotConnectedError, match="failed a moment ago"):
            meter.open()
        assert len(connections) == 1


def test_work_is_done_while_the_meter_is_at_work() -> None:
    """This meter answers once the work is done, and no sooner: left until after the answer, it would never be done."""
    bench, done = Bench(), threading.Event()

    def slow(connection: Connection) -> None:
        while (message := connection.line()) is not None:
            if ":READ?" in message and bench.reading == "0.5":
                assert done.wait(10)
            reply = bench.message(message)
            if reply is not None:
                connection.say(reply.encode() + b"\n")

    with Peer(slow) as peer:
        meter = open_meter(peer.address)
        bench.reading = "0.5"
        assert meter.read_voltage(done.set) == 0.5
        meter.close()
