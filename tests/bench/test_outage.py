"""A cable that is pulled in the middle of a scan and plugged in again, over real sockets and in real time."""

import time
from threading import Timer

from sequences.engine.events import Ending, Event, Notice, ReadingTaken, RunEnded
from sequences.engine.run import Limits, run
from sequences.procedures.sweeps.scan import ScanSettings, scan
from server.bench.file import BenchFile, MeterEntry, SourceEntry
from server.wiring import open_bench
from tests.bench.practice import practice
from tests.fakes import StopAfter
from tests.server.relay import Relay

READINGS = 60
PULLED_AT = 20
OUTAGE_S = 5.0
LEVEL_DBM = -50.0


class WallClock:
    """Real time."""

    def now(self) -> float:
        """Seconds, from anywhere."""
        return time.monotonic()

    def sleep(self, duration_s: float) -> None:
        """Wait."""
        time.sleep(duration_s)


def test_five_seconds_without_the_source_cost_a_pause_and_a_notice() -> None:
    """Not the run, not a reading; its state is read back before it goes on, and the output is off at the end."""
    events: list[Event] = []
    with practice("--seed", "1", "--instant") as bench:
        bench.do(do="connect", role="source", to="third mixer")
        bench.do(do="connect", role="meter", to="detector")
        truth = bench.do(do="truth")["truth"]["circuits"]["85 kHz filter"]
        cable = Relay(int(bench.source.split("::")[2]))
        cable.plug_in()

        def pull_once(event: Event) -> None:
            events.append(event)
            if isinstance(event, ReadingTaken) and event.index == PULLED_AT:
                cable.pull()
                Timer(OUTAGE_S, cable.plug_in_again).start()

        source = SourceEntry(address=f"TCPIP::127.0.0.1::{cable.port}::SOCKET")
        opened = open_bench(BenchFile(source=source, meter=MeterEntry(address=bench.meter)))
        result = run(
            scan(ScanSettings(81e3, 89e3, LEVEL_DBM, 0.0, readings=READINGS)),
            opened.bench,
            emit=pull_once,
            stop=StopAfter(),
            clock=WallClock(),
            limits=Limits(highest_power_dbm=LEVEL_DBM),
            name="outage",
        )
        opened.close()
        cable.close()

    (end,) = [event for event in events if isinstance(event, RunEnded)]
    taken = {event.index for event in events if isinstance(event, ReadingTaken)}
    assert (end.ending, end.output_off) == (Ending.COMPLETED, True)
    assert set(range(READINGS)) <= taken
    assert any(isinstance(event, Notice) for event in events)
    assert result.fit.centre is not None
    assert abs(result.fit.centre.value - truth["centre_hz"]) < 0.02 * truth["width_3db_hz"]
