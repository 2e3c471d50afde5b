"""A service that keeps to the HTTP API and measures nothing: it plays scripted scans, at the pace a test asks for."""

import asyncio
import json
import math
import threading
import time
from collections.abc import AsyncIterator
from dataclasses import dataclass, field
from importlib.util import find_spec
from pathlib import Path
from typing import Annotated, Any

from fastapi import Body, FastAPI, Header, Query
from fastapi.responses import FileResponse, JSONResponse, Response, StreamingResponse
from fastapi.staticfiles import StaticFiles

PAGE = Path(__file__).resolve().parents[2] / "server" / "page"

Json = dict[str, Any]

CAUTIONS = [
    "Chassis voltages up to 210 V: switch off, discharge the filter capacitors and measure before you touch anything.",
    "Clip on with the set switched off; the blocking capacitor must stand 400 V.",
]


def target(ident: str, name: str, centre_hz: float, width_hz: float, **changes: Any) -> Json:  # noqa: ANN401 - JSON
    """Describe one target as the API does."""
    return {
        "id": ident,
        "receiver": "Skerry 7",
        "name": name,
        "kind": "if passband",
        "start_hz": centre_hz - 2 * width_hz,
        "stop_hz": centre_hz + 2 * width_hz,
        "level_dbm": -60.0,
        "max_level_dbm": -20.0,
        "settle_s": 0.02,
        "detector": "linear",
        "nominal_centre_hz": centre_hz,
        "nominal_width_hz": width_hz,
        "hookup": {
            "source_to": "third mixer",
            "source_through": "10 nF, 400 V",
            "meter_to": "detector",
            "controls": {"selectivity": "2 kHz", "passband": 0, "agc": "off"},
        },
        "cautions": CAUTIONS,
        **changes,
    }


def scripted_level_db(frequency_hz: float, centre_hz: float, width_hz: float) -> float:
    """Draw something that looks like a circuit; no test relies on its figures."""
    return -12.0 - 10 * math.log10(1 + (2 * (frequency_hz - centre_hz) / width_hz) ** 2)


def scripted_result(readings: int, off_hz: float, doubts: tuple[str, ...] = ()) -> Json:
    """Give the figures that the fake claims to have found: a circuit so far off 60 kHz."""
    frequency_hz = [56_000.0 + 40 * step for step in range(201)]
    centre_hz = 60_000 + off_hz
    return {
        "model": "single circuit",
        "peak_hz": centre_hz - 2.3,
        "peak_sigma_hz": 3.1,
        "centre_hz": centre_hz,
        "centre_sigma_hz": 4.4,
        "lower_3db_hz": centre_hz - 1_010.5,
        "upper_3db_hz": centre_hz + 1_010.5,
        "width_3db_hz": 2_021.0,
        "width_3db_sigma_hz": 13.0,
        "width_6db_hz": 3_492.0,
        "width_6db_sigma_hz": 28.0,
        "loaded_q": 29.7,
        "loaded_q_sigma": 0.19,
        "peak_level_db": -12.0,
        "noise_db": 0.06,
        "readings": readings,
        "evidence": [],
        "doubts": list(doubts),
        "curve": {
            "frequency_hz": frequency_hz,
            "level_db": [scripted_level_db(each, centre_hz, 2_021.0) for each in frequency_hz],
            "sigma_db": [0.15] * len(frequency_hz),
        },
    }


@dataclass
class FakeBench:
    """The state of the fake, and the strings a test pulls."""

    targets: list[Json] = field(
        default_factory=lambda: [
            target("skerry-7-2", "60 kHz passband, 2 kHz", 60_000, 2_000),
            target("skerry-7-4", "60 kHz passband, 4 kHz", 60_000, 4_000),
            target("millrace-5-if", "455 kHz passband", 455_000, 8_000, receiver="Millrace 5"),
        ]
    )
    instruments: list[Json] = field(
        default_factory=lambda: [
            _instrument("source", "Peakwright Practice,Signal Source,000117,1.0"),
            _instrument("meter", "Peakwright Practice,Multimeter,000288,1.0"),
            _instrument("counter", "Peakwright Practice,Counter,000093,1.0"),
        ]
    )
    pace_s: float = 0.002
    off_hz: float = 23.7
    readings_when_chosen: int = 24
    looks: int = 0
    doubts: tuple[str, ...] = ()
    fail_with: str | None = None
    spoil_reading: int | None = None
    last_error: str | None = None
    output_on: bool | None = False
    output_alarm: Json | None = None
    scans: list[Json] = field(default_factory=list)
    items: list[Json] = field(default_factory=list)
    holder: str | None = None
    hold_at: int | None = None
    stopping: threading.Event = field(default_factory=threading.Event)
    held: threading.Event = field(default_factory=threading.Event)
    released: threading.Event = field(default_factory=threading.Event)
    closing: threading.Event = field(default_factory=threading.Event)
    busy: str | int | None = None
    session: Json | None = None

    def hold_after(self, readings: int) -> None:
        """Let the next scan wait after so many readings, until `release`."""
        self.hold_at = readings
        self.held.clear()
        self.released.clear()

    def release(self) -> None:
        """Let a held scan go on."""
        self.hold_at = None
        self.released.set()

    def view(self, client: str | None) -> Json:
        """Give the bench as one client sees it."""
        return {
            "mode": "practice",
            "instruments": self.instruments,
            "output_on": self.output_on,
            "output_alarm": self.output_alarm,
            "busy_run": self.busy,
            "session": self.session,
            "operator": {"present": self.holder is not None, "you": client is not None and client == self.holder},
            "last_error": self.last_error,
        }

    def change(self) -> None:
        """Tell every stream that the bench changed."""
        self.items.append({"bench": True})

    def emit(self, scan: Json, kind: str, **event: Any) -> None:  # noqa: ANN401 - JSON
        """Publish an event of a run."""
        scan["seq"] += 1
        self.items.append({"run": scan["id"], "seq": scan["seq"], "event": {"kind": kind, **event}})

    def begin(self, order: Json) -> Json:
        """Start a scan in a thread of its own."""
        found = next(each for each in self.targets if each["id"] == order["target"])
        start = order.get("start_hz", order.get("centre_hz", 0) - order.get("span_hz", 0) / 2)
        stop = order.get("stop_hz", order.get("centre_hz", 0) + order.get("span_hz", 0) / 2)
        scan: Json = {
            "id": len(self.scans) + 1,
            "seq": 0,
            "started_utc": time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime()),
            "target": found["id"],
            "target_name": found["name"],
            "receiver": found["receiver"],
            "ending": None,
            "ending_text": None,
            "settings": {**_settings(order), "start_hz": start, "stop_hz": stop, "hookup": found["hookup"]},
            "order": order,
            "instruments": self.instruments,
            "readings": [],
            "result": None,
        }
        self.scans.append(scan)
        self.busy = scan["id"]
        self.stopping.clear()
        self.change()
        threading.Thread(target=self._play, args=(scan,), daemon=True).start()
        return scan

    def _play(self, scan: Json) -> None:
        count = scan["settings"]["readings"] or self.readings_when_chosen
        self.emit(scan, "RunStarted", name="scan")
        self._switch(scan, on=True)
        for index in range(self.looks):
            self._look(scan, index)
        for index in range(self.looks, self.looks + count):
            if index == self.hold_at:
                self.held.set()
                while not self.released.wait(0.01) and not self.stopping.is_set():
                    pass
            if self.stopping.wait(self.pace_s) or self.closing.is_set():
                return self._end(scan, "stopped", "The scan was stopped.")
            if self.fail_with is not None and index == self.looks + count // 2:
                return self._end(scan, "failed", self.fail_with)
            self._read(scan, index, count)
        scan["result"] = scripted_result(count, self.off_hz, self.doubts)
        return self._end(scan, "completed", "The scan is complete.")

    def _look(self, scan: Json, index: int) -> None:
        """Take a reading of a calibration: a rough level on another scale, no part of the fit."""
        frequency_hz = scan["settings"]["start_hz"] + 100.0 * index
        reading = {"index": index, "time_s": 0.0, "frequency_hz": frequency_hz, "power_dbm": -60.0, "mark": "good"}
        scan["readings"].append(
            {**reading, "purpose": "calibration", "value_v": 0.001, "level_db": -60.0, "used": False}
        )
        self.emit(scan, "ReadingTaken", **reading, purpose="calibration", role="meter", value=0.001, unit="V")
        self.emit(scan, "LevelTaken", reading_index=index, frequency_hz=frequency_hz, level_db=-60.0, used=False)

    def _read(self, scan: Json, index: int, count: int) -> None:
        self.take_reading(scan, index, count, self.off_hz)
        if index >= count // 3 and index % 4 == 0:
            self.emit(scan, "PartialFit", figures=scripted_result(index + 1, self.off_hz))
        done = (index + 1) / count
        self.emit(scan, "Progress", done=done, remaining_s=(count - index) * 0.2, text=f"Reading {index + 1}")

    def take_reading(self, scan: Json, index: int, count: int, off_hz: float) -> None:
        """Take one reading of a run, and tell it."""
        settings = scan["settings"]
        share = index / (count - 1) if settings["readings"] else (index * 0.618034) % 1
        frequency_hz = settings["start_hz"] + share * (settings["stop_hz"] - settings["start_hz"])
        level_db = scripted_level_db(frequency_hz, 60_000 + off_hz, 2_021.0) + 0.1 * math.sin(12.9 * index)
        spoiled = index == self.spoil_reading
        reading = {
            "index": index,
            "time_s": index * 0.2,
            "frequency_hz": frequency_hz,
            "power_dbm": settings["level_dbm"],
            "mark": "overload" if spoiled else "good",
            "purpose": "scan",
        }
        value = None if spoiled else 10 ** (level_db / 20)
        level = None if spoiled else level_db
        scan["readings"].append({**reading, "value_v": value, "level_db": level, "used": not spoiled})
        self.emit(scan, "ReadingTaken", **reading, role="meter", value=value, unit="V")
        self.emit(scan, "LevelTaken", reading_index=index, frequency_hz=frequency_hz, level_db=level, used=not spoiled)

    def _end(self, scan: Json, ending: str, text: str) -> None:
        self._switch(scan, on=False)
        scan["ending"], scan["ending_text"] = ending, text
        self.last_error = text if ending == "failed" else None
        self.busy = None
        self.emit(scan, "RunEnded", ending=ending, text=text, output_off=True)
        self.change()

    def _switch(self, scan: Json, *, on: bool) -> None:
        self.output_on = on
        self.emit(scan, "SourceChanged", time_s=0.0, frequency_hz=None, power_dbm=None, output_on=on)
        self.change()


def _instrument(role: str, identity: str) -> Json:
    address = f"TCPIP::127.0.0.1::{5000 + len(role)}::SOCKET"
    return {"role": role, "address": address, "identity": identity, "state": "ready", "detail": None}


def _settings(order: Json) -> Json:
    kept = ("level_dbm", "settle_s", "detector", "readings", "until_centre_percent")
    return {name: order[name] for name in kept}


def summary(scan: Json) -> Json:
    """Give a scan as the list shows it."""
    result = scan["result"] or {}
    keys = ("id", "started_utc", "target_name", "receiver", "ending", "settings")
    figures = {key: result.get(key) for key in ("centre_hz", "centre_sigma_hz", "width_3db_hz")}
    count = len(scan["readings"])
    return {**{key: scan[key] for key in keys}, **figures, "readings": count, "job_id": scan.get("job_id")}


def create_fake(bench: FakeBench) -> FastAPI:
    """Build the fake's application."""
    app = FastAPI(telemetry={"auto_configure": False})
    _add_page(app)
    _add_bench(app, bench)
    _add_acts(app, bench)
    _add_scans(app, bench)
    _add_downloads(app, bench)
    _add_live(app, bench)
    return app


def _add_page(app: FastAPI) -> None:
    spec = find_spec("bokeh")
    assert spec is not None
    assert spec.origin is not None
    scripts = Path(spec.origin).parent / "server" / "static" / "js"
    app.mount("/page", StaticFiles(directory=PAGE))
    app.mount("/static/bokeh", StaticFiles(directory=scripts))

    @app.get("/")
    def index() -> FileResponse:
        return FileResponse(PAGE / "index.html")


Client = Annotated[str | None, Header(alias="X-Peakwright-Client")]


def _refusal(sentence: str, status: int = 409) -> JSONResponse:
    return JSONResponse({"error": sentence}, status_code=status)


def _add_bench(app: FastAPI, bench: FakeBench) -> None:
    @app.get("/api/bench")
    def read_bench(client: Client = None) -> Json:
        return bench.view(client)

    @app.get("/api/targets")
    def read_targets() -> list[Json]:
        return bench.targets


def _add_acts(app: FastAPI, bench: FakeBench) -> None:
    @app.post("/api/stop")
    def stop(client: Client = None) -> Response:
        if bench.holder not in {None, client}:
            return _refusal("Another page operates this bench; watch, or take over first.")
        bench.stopping.set()
        bench.session = None
        bench.change()
        return JSONResponse({})

    @app.post("/api/output-off")
    def output_off() -> Json:
        bench.stopping.set()
        bench.session = None
        bench.output_on = False
        bench.change()
        return {}

    @app.post("/api/operator/take")
    def take(client: Client = None) -> Json:
        bench.holder = client
        bench.change()
        return {}

    @app.post("/api/bench/look")
    def look(client: Client = None) -> Json:
        for instrument in bench.instruments:
            instrument.update(state="ready", detail=None)
        bench.change()
        return bench.view(client)


def _add_scans(app: FastAPI, bench: FakeBench) -> None:
    @app.post("/api/scans")
    def start(order: Annotated[Json, Body()], client: Client = None) -> Response:
        if bench.holder not in {None, client}:
            return _refusal("Another page operates this bench; watch, or take over first.")
        if bench.busy is not None:
            return _refusal(f"Scan {bench.busy} is still on; wait for it or stop it first.")
        bench.holder = client
        return JSONResponse({"id": bench.begin(order)["id"]}, status_code=201)

    @app.get("/api/scans")
    def scans() -> list[Json]:
        return [summary(scan) for scan in reversed(bench.scans)]

    @app.get("/api/scans/{scan_id}")
    def scan(scan_id: int) -> Response:
        if not 0 < scan_id <= len(bench.scans):
            return _refusal(f"There is no scan number {scan_id}.", 404)
        hidden = {"seq", "order"}
        return JSONResponse({key: value for key, value in bench.scans[scan_id - 1].items() if key not in hidden})


def _add_downloads(app: FastAPI, bench: FakeBench) -> None:
    @app.get("/api/scans/{scan_id}/readings.csv")
    def csv(scan_id: int) -> Response:
        rows = [f"{each['frequency_hz']},{each['level_db']}" for each in bench.scans[scan_id - 1]["readings"]]
        return _file("\n".join(["frequency_hz,level_db", *rows]), "text/csv", f"scan-{scan_id}.csv")

    @app.get("/api/scans/{scan_id}/scan.json")
    def as_json(scan_id: int) -> Response:
        return _file(json.dumps(bench.scans[scan_id - 1]), "application/json", f"scan-{scan_id}.json")


def _file(body: str, media_type: str, name: str) -> Response:
    return Response(body, media_type=media_type, headers={"Content-Disposition": f'attachment; filename="{name}"'})


def _add_live(app: FastAPI, bench: FakeBench) -> None:
    @app.get("/api/live")
    def live(
        client: Annotated[str | None, Query()] = None, last_event_id: Annotated[str | None, Header()] = None
    ) -> StreamingResponse:
        position = int(last_event_id) if last_event_id else len(bench.items)
        return StreamingResponse(_stream(bench, client, position), media_type="text/event-stream")


async def _stream(bench: FakeBench, client: str | None, position: int) -> AsyncIterator[str]:
    yield _message([{"bench": bench.view(client)}], position)
    while not bench.closing.is_set():
        await asyncio.sleep(0.02)
        fresh = bench.items[position:]
        position += len(fresh)
        if fresh:
            runs = [item for item in fresh if "bench" not in item]
            told = [{"bench": bench.view(client)}] if len(runs) < len(fresh) else []
            yield _message([*runs, *told], position)


def _message(items: list[Json], position: int) -> str:
    return f"id: {position}\nevent: message\ndata: {json.dumps(items)}\n\n"
