"""The HTTP API over a bench without a wire."""

import csv
import io
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi import FastAPI
from fastapi.testclient import TestClient

from server.api.app import create_app
from server.api.seat import CLIENT_HEADER
from server.api.service import Service, assemble
from server.bench.file import BenchFile, MeterEntry, SourceEntry
from server.settings import Settings
from tests.fakes import FakeClock, FakeSource
from tests.server.benches import FakeBench, GatedMeter, PassbandMeter, eventually

CENTRE_HZ = 85_050.0
WIDTH_HZ = 2000.0
ME = {CLIENT_HEADER: "one"}
OTHER = {CLIENT_HEADER: "two"}
TARGET = "skerry-7-third-passband-1-6khz"


class Api:
    """A client with its service."""

    def __init__(self, path: Path, bench: FakeBench, loss_db: float = 0.0) -> None:
        """Put a service together over a bench."""
        self.bench = bench
        self.clock = FakeClock()
        source = SourceEntry(address="source-address", ceiling_dbm=0.0, loss_db=loss_db)
        bench_file = BenchFile(source=source, meter=MeterEntry(address="meter-address"))
        settings = Settings(mode="bench", bench_file=bench_file, store_path=path / "record.sqlite")
        self.service: Service = assemble(settings, open_bench=lambda _: bench, clock=self.clock.now)
        self.http = TestClient(
            create_app(self.service), base_url="http://127.0.0.1:8470", raise_server_exceptions=False
        )

    def get(self, path: str) -> Any:  # noqa: ANN401 - JSON
        """Read what must be there."""
        answer = self.http.get(path)
        assert answer.status_code == 200, answer.text
        return answer.json()

    def order(self, **wishes: object) -> Any:  # noqa: ANN401 - a response
        """Order a scan."""
        return self.http.post("/api/scans", json={"target": TARGET, **wishes}, headers=ME)

    def scan(self, **wishes: object) -> Any:  # noqa: ANN401 - JSON
        """Order a scan, wait for its end and read it."""
        answer = self.order(**wishes)
        assert answer.status_code == 201, answer.text
        eventually(lambda: self.get("/api/bench")["busy_run"] is None)
        return self.get(f"/api/scans/{answer.json()['id']}")


def opened(api: Api) -> Iterator[Api]:
    """Run a service for as long as a test takes."""
    with api.http:
        eventually(lambda: api.get("/api/bench")["instruments"])
        yield api
        if isinstance(api.bench.meter, GatedMeter):
            api.bench.gated.gate.set()


@pytest.fixture
def api(tmp_path: Path) -> Iterator[Api]:
    """A service over one tuned circuit, 2 kHz wide at 85.05 kHz."""
    source = FakeSource()
    yield from opened(Api(tmp_path, FakeBench(source, PassbandMeter(source, CENTRE_HZ, WIDTH_HZ)), loss_db=20.0))


@pytest.fixture
def gated(tmp_path: Path) -> Iterator[Api]:
    """A service over a meter that reads when the test says so."""
    yield from opened(Api(tmp_path, FakeBench()))


def test_the_bench_is_told_by_role(api: Api) -> None:
    """With what each instrument says it is."""
    state = api.get("/api/bench")

    assert state["mode"] == "bench"
    assert state["instruments"][0] == {
        "role": "source",
        "address": "source-address",
        "identity": "Invented,source,1,1.0",
        "state": "ready",
        "detail": None,
    }
    assert (state["output_on"], state["busy_run"], state["last_error"]) == (False, None, None)
    assert state["operator"] == {"present": False, "you": False}


def test_targets_say_what_to_scan_and_how_to_hook_up(api: Api) -> None:
    """Everything a page needs to propose a scan, and the cautions that go with it."""
    targets = {target["id"]: target for target in api.get("/api/targets")}

    target = targets[TARGET]
    assert (target["receiver"], target["kind"]) == ("Skerry 7", "if passband")
    assert target["start_hz"] < target["nominal_centre_hz"] < target["stop_hz"]
    assert target["nominal_centre_hz"] == 85_000.0
    assert target["hookup"]["source_to"] == "third mixer"
    assert target["hookup"]["meter_to"] == "detector"
    assert target["hookup"]["controls"]["selectivity"] == "1.6 kHz"
    assert target["level_dbm"] <= target["max_level_dbm"]
    assert target["cautions"]
    assert {target["receiver"] for target in targets.values()} == {"Skerry 7", "Millrace 5"}


CHECKED = 81 + 8 + 6
"""An even sweep, its skirts again on the way back, and a level step at the peak, read three times."""


def test_a_scan_finds_the_circuit_and_is_kept(api: Api) -> None:
    """The circuit is 2 kHz wide between its 3 dB points at 85.05 kHz, by the definition of a single circuit."""
    scan = api.scan(readings=81, start_hz=81_000, stop_hz=89_000, detector="linear", settle_s=0)

    assert (scan["ending"], scan["ending_text"], scan["output_off"]) == ("completed", "The run is complete.", True)
    assert len(scan["readings"]) == CHECKED
    first = scan["readings"][0]
    assert (first["index"], first["frequency_hz"], first["mark"], first["used"]) == (0, 81_000.0, "good", True)
    assert scan["result"]["centre_hz"] == pytest.approx(CENTRE_HZ, abs=0.01 * WIDTH_HZ)
    assert scan["result"]["width_3db_hz"] == pytest.approx(WIDTH_HZ, rel=0.02)
    (line,) = api.get("/api/scans")
    assert (line["id"], line["readings"], line["centre_hz"]) == (scan["id"], CHECKED, scan["result"]["centre_hz"])
    assert line["settings"]["start_hz"] == 81_000.0


def test_what_an_order_leaves_out_comes_from_the_target(api: Api) -> None:
    """Centre and span are another way to say from where to where."""
    target = next(target for target in api.get("/api/targets") if target["id"] == TARGET)

    settings = api.scan(centre_hz=85_000, span_hz=6000, readings=11)["settings"]

    assert (settings["start_hz"], settings["stop_hz"]) == (82_000.0, 88_000.0)
    assert (settings["level_dbm"], settings["settle_s"]) == (target["level_dbm"], target["settle_s"])
    assert settings["detector"] == target["detector"]
    assert settings["hookup"] == target["hookup"]


def test_the_loss_on_the_way_is_made_up_for(api: Api) -> None:
    """-60 dBm at the receiver behind a 20 dB pad takes -40 dBm at the source."""
    scan = api.scan(level_dbm=-60, readings=5, detector="linear", settle_s=0)

    assert ("power", -40.0) in api.bench.source.calls
    assert scan["readings"][0]["power_dbm"] == -60.0


def test_a_source_may_not_be_driven_over_its_ceiling(api: Api) -> None:
    """0 dBm at most at its connector, and 20 dB of pad: -20 dBm at the receiver."""
    answer = api.order(level_dbm=-19.9)

    assert answer.status_code == 422
    assert "at most -20 dBm" in answer.json()["error"]
    assert api.get("/api/scans") == []


@pytest.mark.parametrize(
    ("wishes", "status", "words"),
    [
        ({"target": "nothing"}, 404, 'no target "nothing"'),
        ({"start_hz": 1000}, 422, "start_hz with stop_hz"),
        ({"centre_hz": 1000}, 422, "centre_hz with span_hz"),
        ({"start_hz": 1, "stop_hz": 2, "centre_hz": 1, "span_hz": 1}, 422, "not the other pair"),
        ({"start_hz": 64_000, "stop_hz": 56_000}, 422, "64000 Hz"),
        ({"start_hz": -5, "stop_hz": 56_000}, 422, "-5 Hz"),
        ({"start_hz": "low", "stop_hz": 56_000}, 422, 'start_hz is "low" but must be a number'),
        ({"level_dbm": None, "readings": 1}, 422, "readings"),
        ({"readings": 2.5}, 422, "readings is 2.5 but must be a whole number"),
        ({"readings": True}, 422, "readings is True but must be a whole number"),
        ({"readings": 50, "until_centre_percent": 1}, 422, "both"),
        ({"until_centre_percent": 0}, 422, "until_centre_percent is 0 but must be above 0"),
        ({"detector": "cubic"}, 422, "detector is \"cubic\" but must be one of 'linear', 'square' or 'calibrate'"),
        ({"settle_s": -1}, 422, "-1 s"),
        ({"levle_dbm": -60}, 422, "levle_dbm is not a known key; the known keys are target, start_hz"),
        ({"target": None}, 422, "target is None but must be text"),
    ],
)
def test_a_wrong_order_gets_one_sentence(api: Api, wishes: dict[str, object], status: int, words: str) -> None:
    """And nothing is entered in the record."""
    answer = api.order(**wishes)

    assert answer.status_code == status
    assert list(answer.json()) == ["error"]
    assert words in answer.json()["error"]
    assert answer.json()["error"].count(".") >= 1
    assert api.get("/api/scans") == []


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ("{", "not valid JSON"),
        ("[]", "must be a JSON object"),
        ("", "must be a JSON object"),
        ('{"target": "t", "start_hz": NaN, "stop_hz": 1}', "start_hz"),
        ('{"target": "t", "start_hz": 1e999, "stop_hz": 1}', "start_hz"),
    ],
)
def test_a_body_that_is_no_order_gets_one_sentence(api: Api, body: str, words: str) -> None:
    """Whatever a script sends."""
    answer = api.http.post("/api/scans", content=body, headers={**ME, "Content-Type": "application/json"})

    assert answer.status_code == 422
    assert words in answer.json()["error"]


@pytest.mark.parametrize(
    ("method", "path", "status"),
    [
        ("GET", "/api/nothing", 404),
        ("GET", "/nothing.js", 404),
        ("GET", "/page/nothing.js", 404),
        ("GET", "/page/..%2fapp.py", 404),
        ("GET", "/api/scans/7", 404),
        ("GET", "/api/scans/seven", 422),
        ("GET", "/api/scans/7/readings.csv", 404),
        ("GET", "/api/scans/7/scan.json", 404),
        ("GET", "/api/scans/99999999999999999999", 404),
        ("DELETE", "/api/bench", 405),
        ("POST", "/api/targets", 405),
    ],
)
def test_every_refusal_has_the_same_shape(api: Api, method: str, path: str, status: int) -> None:
    """One sentence, whichever part of the service says it."""
    answer = api.http.request(method, path)

    assert answer.status_code == status
    assert list(answer.json()) == ["error"]


def test_a_fault_of_the_service_has_the_same_shape(
    api: Api, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """The traceback goes to the log."""

    def stumble(*_: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(type(api.service.store), "runs", stumble)
    answer = api.http.get("/api/scans")

    assert answer.status_code == 500
    assert answer.json() == {"error": "The service met a fault of its own; its log says more."}
    assert "ZeroDivisionError" in caplog.text


@pytest.mark.parametrize(
    "path", ["/api/scans", "/api/stop", "/api/output-off", "/api/bench/look", "/api/operator/take"]
)
def test_who_acts_must_have_a_name(api: Api, path: str) -> None:
    """A form of another site can post here but can set no header; a name in the address does not count."""
    answer = api.http.post(f"{path}?client=one", json={"target": TARGET})

    assert answer.status_code == 400
    assert CLIENT_HEADER in answer.json()["error"]
    assert api.get("/api/bench")["operator"]["present"] is False


def test_one_operates_and_others_watch_until_they_take_over(gated: Api) -> None:
    """Whoever acts first operates."""
    run_id = gated.order(readings=100).json()["id"]

    refused = gated.http.post("/api/stop", headers=OTHER)
    assert refused.status_code == 409
    assert "Another page operates this bench" in refused.json()["error"]
    assert gated.get("/api/bench?client=one")["operator"] == {"present": True, "you": True}
    assert gated.get("/api/bench?client=two")["operator"] == {"present": True, "you": False}

    taken = gated.http.post("/api/operator/take", headers=OTHER)
    assert taken.json()["operator"] == {"present": True, "you": True}
    assert taken.json()["busy_run"] == run_id
    assert gated.http.post("/api/stop", headers=ME).status_code == 409
    assert gated.http.post("/api/stop", headers=OTHER).status_code == 200


def test_anyone_may_switch_off(gated: Api) -> None:
    """Safety asks for no seat; the seat stays with its holder."""
    gated.order(readings=100)
    assert gated.bench.gated.waiting.wait(30)

    state = gated.http.post("/api/output-off", headers=OTHER).json()

    assert state["output_on"] is False
    assert not gated.bench.source.output_on
    assert state["operator"] == {"present": True, "you": False}
    gated.bench.gated.gate.set()
    eventually(lambda: gated.get("/api/bench")["busy_run"] is None)
    assert gated.get("/api/scans")[0]["ending"] == "stopped"


def test_a_source_that_does_not_confirm_is_an_error(gated: Api) -> None:
    """The person is sent to the instrument."""
    gated.bench.source.confirms = False

    answer = gated.http.post("/api/output-off", headers=ME)

    assert answer.status_code == 502
    assert "switch it off at the instrument" in answer.json()["error"]


def test_a_second_scan_waits_its_turn(gated: Api) -> None:
    """It is refused by the number of the one that is on."""
    run_id = gated.order(readings=100).json()["id"]

    answer = gated.order(readings=100)

    assert answer.status_code == 409
    assert f"Scan {run_id} is still on" in answer.json()["error"]


def test_a_stop_within_one_reading(gated: Api) -> None:
    """The reading under way is the last, and the output is off."""
    run_id = gated.order(readings=100).json()["id"]
    assert gated.bench.gated.waiting.wait(30)

    assert gated.http.post("/api/stop", headers=ME).status_code == 200
    gated.bench.gated.gate.set()
    eventually(lambda: gated.get("/api/bench")["busy_run"] is None)

    scan = gated.get(f"/api/scans/{run_id}")
    assert (scan["ending"], len(scan["readings"]), scan["output_off"]) == ("stopped", 1, True)
    assert not gated.bench.source.output_on


def test_an_operator_that_is_gone_stops_the_run(gated: Api) -> None:
    """No stream of its own for ten seconds, by the service's clock."""
    run_id = gated.order(readings=100).json()["id"]
    assert gated.bench.gated.waiting.wait(30)

    gated.clock.sleep(10.1)
    eventually(lambda: gated.get("/api/bench")["output_on"] is False)
    assert not gated.bench.source.output_on
    gated.bench.gated.gate.set()
    eventually(lambda: gated.get("/api/bench")["busy_run"] is None)

    assert gated.get(f"/api/scans/{run_id}")["ending"] == "stopped"
    assert gated.get("/api/bench")["operator"]["present"] is False


def test_the_watch_over_the_operator_outlives_a_fault(
    gated: Api, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """Or the next run would go on unattended."""
    output_off = gated.service.worker.output_off

    def stumble(_because: str) -> None:
        monkeypatch.setattr(gated.service.worker, "output_off", output_off)
        raise ZeroDivisionError

    monkeypatch.setattr(gated.service.worker, "output_off", stumble)
    gated.http.post("/api/stop", headers=ME)
    gated.clock.sleep(10.1)
    eventually(lambda: "ZeroDivisionError" in caplog.text)

    gated.order(readings=100)
    assert gated.bench.gated.waiting.wait(30)
    gated.clock.sleep(10.1)
    eventually(lambda: ("safe", None) in gated.bench.source.calls[-1:])
    gated.bench.gated.gate.set()
    eventually(lambda: gated.get("/api/bench")["busy_run"] is None)

    assert gated.get("/api/scans")[0]["ending"] == "stopped"


def test_a_missing_meter_is_shown_and_found_again(tmp_path: Path) -> None:
    """The service runs without it, and says what to do."""
    for api in opened(Api(tmp_path, FakeBench(missing={"meter"}))):
        meter = api.get("/api/bench")["instruments"][1]
        assert (meter["state"], meter["identity"], meter["detail"]) == ("missing", None, "nothing answers there")
        refused = api.order()
        assert refused.status_code == 409
        assert "The meter is missing (nothing answers there)" in refused.json()["error"]

        state = api.http.post("/api/bench/look", headers=ME).json()

        assert [instrument["state"] for instrument in state["instruments"]] == ["ready", "ready"]
        assert api.order(readings=5).status_code == 201


def test_the_csv_opens_as_one_table(api: Api) -> None:
    """RFC 4180: one header, then one record a reading, CR LF between them; units in the names."""
    scan = api.scan(readings=7, level_dbm=-60, detector="linear", settle_s=0)

    answer = api.http.get(f"/api/scans/{scan['id']}/readings.csv")

    assert answer.headers["content-type"].startswith("text/csv")
    assert (
        f'filename="{scan["started_utc"][:10]}-{TARGET}-scan-{scan["id"]}.csv"' in answer.headers["content-disposition"]
    )
    assert len(scan["readings"]) >= 7  # those ordered, and those that check the law of the detector
    assert answer.text.count("\r\n") == answer.text.count("\n") == 1 + len(scan["readings"])
    rows = list(csv.DictReader(io.StringIO(answer.text, newline="")))
    assert [float(row["frequency_hz"]) for row in rows] == [reading["frequency_hz"] for reading in scan["readings"]]
    assert [float(row["value_v"]) for row in rows] == [reading["value_v"] for reading in scan["readings"]]
    assert rows[0]["power_dbm"] == "-60.0"
    assert (rows[0]["mark"], rows[0]["used"], rows[0]["purpose"]) == ("good", "true", "scan")
    assert (rows[3]["receiver"], rows[3]["setting_level_dbm"], rows[3]["ending"]) == ("Skerry 7", "-60.0", "completed")
    assert rows[3]["source_identity"] == "Invented,source,1,1.0"


def test_the_json_holds_everything(api: Api) -> None:
    """Settings, instruments, result and readings, as the scan itself."""
    scan = api.scan(readings=7, detector="linear", settle_s=0)

    answer = api.http.get(f"/api/scans/{scan['id']}/scan.json")

    assert answer.headers["content-type"] == "application/json"
    assert answer.json() == {"format": "peakwright scan", "format_version": 1, **scan}


def test_the_charts_script_comes_from_the_installed_package(api: Api) -> None:
    """Nothing is fetched from elsewhere."""
    answer = api.http.get("/static/bokeh/bokeh.min.js")

    assert answer.status_code == 200
    assert "javascript" in answer.headers["content-type"]
    assert len(answer.content) > 500_000


def test_the_page_is_served_with_its_parts(api: Api) -> None:
    """The page itself at the root, and every file it names."""
    page = api.http.get("/")

    assert page.headers["content-type"].startswith("text/html")
    parts = re.findall(r'(?:src|href)="(/page/[^"]+)"', page.text)
    assert parts
    for part in parts:
        assert api.http.get(part).status_code == 200


def test_nothing_leaves_the_machine_whatever_the_environment_says(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    """The framework by itself would send what it sees to a collector that the environment names; ours does not try."""
    monkeypatch.setenv("FASTAPI_OTEL_AUTO_CONFIGURE", "true")
    monkeypatch.setenv("OTEL_EXPORTER_OTLP_ENDPOINT", "http://127.0.0.1:9")

    with TestClient(FastAPI()):
        assert "telemetry" in caplog.text
    caplog.clear()
    for api in opened(Api(tmp_path, FakeBench())):
        assert api.http.get("/api/bench").status_code == 200

    assert "telemetry" not in caplog.text


def test_no_page_of_the_framework_is_served(api: Api) -> None:
    """They would load scripts from elsewhere."""
    for path in ("/docs", "/redoc"):
        assert api.http.get(path).status_code == 404
