"""`peakwright serve` over instruments on real sockets, the meter's cable in the test's hand."""

import signal
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from server.api.seat import CLIENT_HEADER
from server.practice.process import practice_bench
from tests.server.benches import eventually
from tests.server.processes import ServiceProcess
from tests.server.relay import Relay

ME = {CLIENT_HEADER: "one"}
TARGET = "skerry-7-third-passband-3-2khz"


@dataclass
class Station:
    """A bench file's instruments, and the meter's cable."""

    bench_file: Path
    record: Path
    cable: Relay


@pytest.fixture
def station(tmp_path: Path) -> Iterator[Station]:
    """Instruments that answer at once, hooked up to the 85 kHz passband by hand; the meter is not plugged in."""
    with practice_bench(["--seed", "5", "--instant"]) as bench:
        bench.hands.do(
            {"do": "receiver", "id": "skerry-7"},
            {"do": "connect", "role": "source", "to": "third mixer"},
            {"do": "connect", "role": "meter", "to": "detector"},
            {"do": "set", "control": "agc", "to": "off"},
            {"do": "set", "control": "selectivity", "to": "3.2 kHz"},
        )
        source, meter = bench.bench_file.source, bench.bench_file.meter
        assert source is not None
        assert meter is not None
        cable = Relay(int(meter.address.split("::")[2]))
        bench_file = tmp_path / "bench.toml"
        bench_file.write_text(
            f'[source]\naddress = "{source.address}"\nceiling_dbm = -10.0\nloss_db = 10.0\n'
            f'[meter]\naddress = "TCPIP::127.0.0.1::{cable.port}::SOCKET"\n',
            encoding="utf-8",
        )
        yield Station(bench_file, tmp_path / "record.sqlite", cable)
        cable.close()


def states(service: ServiceProcess) -> dict[str, str]:
    """Give each role's state."""
    return {instrument["role"]: instrument["state"] for instrument in service.bench()["instruments"]}


@pytest.fixture
def service(station: Station) -> Iterator[ServiceProcess]:
    """The service over them; the meter is missing when it starts."""
    arguments = ("--bench", str(station.bench_file), "--port", "0", "--store", str(station.record))
    with ServiceProcess("server", "serve", *arguments, record=station.record) as started:
        assert states(started) == {"source": "ready", "meter": "missing"}
        yield started
        assert started.end(signal.SIGTERM) == 0


def test_an_instrument_that_comes_late_is_found_by_looking_again(station: Station, service: ServiceProcess) -> None:
    """The page is there without it, says why it is missing, and scans once it is found."""
    refused = service.http.post("/api/scans", json={"target": TARGET}, headers=ME)
    assert refused.status_code == 409
    assert refused.json()["error"].startswith("The meter is missing (")
    assert str(station.cable.port) in refused.json()["error"]

    station.cable.plug_in()
    service.http.post("/api/bench/look", headers=ME)
    assert states(service) == {"source": "ready", "meter": "ready"}
    with service.stream() as stream:  # a run goes on only while its page is there, however long it takes
        run_id = service.order(target=TARGET, detector="calibrate", readings=41, settle_s=None)
        next(stream.events("RunEnded"))
    eventually(lambda: service.bench()["busy_run"] is None)

    scan = service.http.get(f"/api/scans/{run_id}").json()
    assert scan["ending"] == "completed", scan["ending_text"]
    assert (scan["mode"], scan["settings"]["loss_db"], scan["settings"]["highest_level_dbm"]) == ("bench", 10.0, -20.0)
    assert scan["result"]["centre_hz"] == pytest.approx(85_000, abs=1000)
    too_strong = service.http.post("/api/scans", json={"target": TARGET, "level_dbm": -15}, headers=ME)
    assert "at most -20 dBm" in too_strong.json()["error"]


def test_a_meter_that_is_pulled_ends_the_scan_with_the_source_off(station: Station, service: ServiceProcess) -> None:
    """The source still answers, and confirms; the sentence names the meter."""
    station.cable.plug_in()
    service.http.post("/api/bench/look", headers=ME)
    with service.stream() as stream:
        service.order(target=TARGET)
        next(stream.events("ReadingTaken"))
        station.cable.pull()
        ended = next(stream.events("RunEnded"))["event"]

    assert (ended["ending"], ended["output_off"]) == ("failed", True)
    assert str(station.cable.port) in ended["text"]
    eventually(lambda: service.bench()["busy_run"] is None)
    assert service.bench()["output_on"] is False
    assert states(service) == {"source": "ready", "meter": "lost"}
