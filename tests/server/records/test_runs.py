"""The record keeps runs as they happened, and tells what a crash left behind."""

import subprocess
import sys
from typing import Any

import psutil
import pytest
from sqlalchemy import update

from sequences.engine.events import (
    Ending,
    LevelTaken,
    Notice,
    PartialFit,
    Progress,
    RunEnded,
    SourceChanged,
)
from sequences.engine.instruments import Mark
from server.errors import StoreError, UnknownThing
from server.records.runs import INTERRUPTED
from server.records.store import Store
from server.records.tables import RunRow
from tests.server.records.samples import SCAN, at_noon, reading


def test_a_run_comes_back_as_it_happened(store: Store) -> None:
    """Readings with their levels, events, ending and result."""
    run_id = store.begin_run(SCAN)
    store.keep(run_id, 0, SourceChanged(0.0, 60000.0, -60.0, True))
    store.keep(run_id, 1, reading(0))
    store.keep(run_id, 2, LevelTaken(0, 60000.0, -6.02, True))
    store.keep(run_id, 3, reading(1, None, Mark.OVERLOAD))
    store.keep(run_id, 4, LevelTaken(1, 60001.0, None, False))
    store.keep(run_id, 5, Notice("A reply was lost."))
    store.end_run(run_id, RunEnded(Ending.COMPLETED, "The run is complete.", True), {"centre_hz": 60010.0})

    run = store.run(run_id)

    assert run["started_utc"] == "2026-11-25T12:00:00.500Z"
    assert (run["ending"], run["ending_text"], run["output_off"]) == ("completed", "The run is complete.", True)
    assert run["settings"] == SCAN.settings
    assert run["instruments"] == SCAN.instruments
    assert run["result"] == {"centre_hz": 60010.0}
    good, overload = run["readings"]
    assert (good["seq"], good["value"], good["unit"], good["mark"]) == (1, 0.5, "V", "good")
    assert (good["frequency_hz"], good["power_dbm"], good["purpose"]) == (60000.0, -60.0, "scan")
    assert (good["level_db"], good["used"]) == (-6.02, True)
    assert (overload["value"], overload["mark"], overload["level_db"], overload["used"]) == (
        None,
        "overload",
        None,
        False,
    )
    assert [event["kind"] for event in run["events"]] == ["SourceChanged", "Notice"]


def test_a_reading_that_is_no_number_is_kept_as_none(store: Store) -> None:
    """The mark says why."""
    run_id = store.begin_run(SCAN)
    store.keep(run_id, 0, reading(0, float("nan"), Mark.NOT_A_NUMBER))

    assert store.run(run_id)["readings"][0]["value"] is None


def test_the_latest_partial_fit_stands_where_there_is_no_result(store: Store) -> None:
    """A stopped scan shows what it had."""
    run_id = store.begin_run(SCAN)
    for centre_hz in (1.0, 2.0):
        store.keep(run_id, 0, PartialFit({"centre_hz": centre_hz}))
    store.end_run(run_id, RunEnded(Ending.STOPPED, "The run was stopped.", True), None)

    assert store.run(run_id)["result"] == {"centre_hz": 2.0}


def test_progress_is_not_kept(store: Store) -> None:
    """It is over once it has been said."""
    run_id = store.begin_run(SCAN)
    store.keep(run_id, 0, Progress(0.5, 1.0, "Half"))

    assert store.run(run_id)["events"] == []


def test_the_list_is_newest_first_with_figures_and_counts(store: Store) -> None:
    """Without the curves, which would make a long list slow."""
    first, second = store.begin_run(SCAN), store.begin_run(SCAN)
    store.keep(first, 0, reading(0))
    store.keep(first, 1, reading(1))
    result: dict[str, Any] = {"centre_hz": 60010.0, "centre_sigma_hz": 3.0, "width_3db_hz": None, "curve": {}}
    store.end_run(first, RunEnded(Ending.COMPLETED, "", True), result)

    runs = store.runs()

    assert [run["id"] for run in runs] == [second, first]
    assert [run["readings"] for run in runs] == [0, 2]
    assert [run["centre_hz"] for run in runs] == [None, 60010.0]
    assert (runs[1]["centre_sigma_hz"], runs[1]["width_3db_hz"]) == (3.0, None)
    assert "result" not in runs[0]


def test_a_run_that_is_not_there_is_said_to_be_so(store: Store) -> None:
    """By its number."""
    with pytest.raises(UnknownThing, match="no scan number 99"):
        store.run(99)


def test_a_number_is_never_given_twice(store: Store, place: str) -> None:
    """A number written on a receiver must find its scan in ten years."""
    run_id = store.begin_run(SCAN)
    store.close()

    reopened = Store(place)
    assert reopened.begin_run(SCAN) == run_id + 1
    reopened.close()


def test_a_reading_of_no_run_is_refused(store: Store) -> None:
    """SQLite looks at foreign keys only when asked to."""
    with pytest.raises(StoreError, match=r"(?i)foreign key"):
        store.keep(12345, 0, reading(0))


def test_a_run_that_another_living_service_has_on_is_left_alone(store: Store, place: str) -> None:
    """Two services may share a record."""
    run_id = store.begin_run(SCAN)

    second = Store(place)

    assert second.run(run_id)["ending"] is None
    second.close()


@pytest.mark.parametrize("owner", ["gone", "number given away again"])
def test_a_run_that_a_dead_service_left_open_is_marked_interrupted(store: Store, place: str, owner: str) -> None:
    """Its process number may meanwhile belong to another program."""
    run_id = store.begin_run(SCAN)
    ended = store.begin_run(SCAN)
    store.end_run(ended, RunEnded(Ending.STOPPED, "The run was stopped.", True), None)
    child = subprocess.run([sys.executable, "-c", "import os; print(os.getpid())"], capture_output=True, check=True)
    dead = {"owner_pid": int(child.stdout)} if owner == "gone" else {"owner_began": psutil.Process().create_time() - 60}
    with store._writing("written") as connection:  # noqa: SLF001 - stands for a service that died
        connection.execute(update(RunRow).values(**dead))

    reopened = Store(place, now=at_noon)

    run = reopened.run(run_id)
    assert (run["ending"], run["ended_utc"]) == (INTERRUPTED, "2026-11-25T12:00:00.500Z")
    assert "service ended while this run was on" in run["ending_text"]
    assert reopened.run(ended)["ending"] == "stopped"
    reopened.close()
