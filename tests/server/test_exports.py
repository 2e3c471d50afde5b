"""Every run can be taken away as a table and as JSON: counter and meter, scan and step, with units and UTC times."""

import csv
import io
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from sequences.engine.events import Ending, ReadingTaken, RunEnded
from sequences.engine.instruments import Mark
from server.exports import file_stem, scan_csv, scan_json
from server.records.jobs import NewJob
from server.records.runs import NewRun
from server.records.store import Store
from tests.server.records.samples import at_noon

INSTRUMENTS = [
    {"role": role, "address": "A", "identity": f"Invented,{role},1,1", "state": "ready", "detail": None}
    for role in ("source", "meter", "counter")
]


@pytest.fixture
def run(tmp_path: Path) -> Iterator[dict[str, Any]]:
    """A run of a step that counted once and metered once."""
    store = Store(tmp_path / "record.sqlite", now=at_noon)
    job_id = store.begin_job(NewJob("skerry-7", "Skerry 7", "", "bench"))
    run_id = store.begin_run(
        NewRun(
            mode="bench",
            target="beat-oscillator",
            target_name="=Beat oscillator",
            receiver="Skerry 7",
            settings={"nominal_khz": 60.0},
            instruments=INSTRUMENTS,
            job_id=job_id,
            step_id="beat-oscillator",
            phase="as found",
            way="count directly",
        )
    )
    store.keep(run_id, 0, ReadingTaken(0, 0.5, "counter", "count", 60012.25, "Hz", Mark.GOOD, None, None))
    store.keep(run_id, 1, ReadingTaken(1, 1.0, "meter", "level", 0.125, "V", Mark.GOOD, 60000.0, -60.0))
    store.keep(run_id, 2, ReadingTaken(2, 1.5, "counter", "count", None, "Hz", Mark.OVERLOAD, None, None))
    store.end_run(run_id, RunEnded(Ending.COMPLETED, "The run is complete.", True), {"centre_hz": 60012.25})
    yield store.run(run_id)
    store.close()


def test_a_value_stands_under_its_own_unit(run: dict[str, Any]) -> None:
    rows = list(csv.DictReader(io.StringIO(scan_csv(run), newline="")))

    assert [(row["role"], row["value_hz"], row["value_v"], row["mark"]) for row in rows] == [
        ("counter", "60012.25", "", "good"),
        ("meter", "", "0.125", "good"),
        ("counter", "", "", "overload"),
    ]


def test_each_row_says_when_where_and_with_what(run: dict[str, Any]) -> None:
    row = next(csv.DictReader(io.StringIO(scan_csv(run), newline="")))

    assert (row["started_utc"], row["time_s"]) == ("2026-11-25T12:00:00.500Z", "0.5")
    assert (row["job"], row["step"], row["phase"], row["way"]) == ("1", "beat-oscillator", "as found", "count directly")
    assert (row["counter_identity"], row["ending"]) == ("Invented,counter,1,1", "completed")
    assert row["target"] == "'=Beat oscillator"  # no formula in a spreadsheet


def test_the_json_holds_the_same_with_the_result(run: dict[str, Any]) -> None:
    content = json.loads(scan_json(run))

    assert [(each["value_hz"], each["value_v"]) for each in content["readings"]] == [
        (60012.25, None),
        (None, 0.125),
        (None, None),
    ]
    assert (content["ended_utc"], content["step_id"]) == ("2026-11-25T12:00:00.500Z", "beat-oscillator")
    assert content["result"] == {"centre_hz": 60012.25}


def test_the_file_is_named_by_day_target_and_number(run: dict[str, Any]) -> None:
    assert file_stem(run) == "2026-11-25-beat-oscillator-scan-1"
