"""The record keeps what it acknowledged, and tells what a crash left behind."""

import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
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
    ReadingTaken,
    RunEnded,
    SourceChanged,
)
from sequences.engine.instruments import Mark
from server.errors import StoreError, UnknownThing
from server.records.runs import INTERRUPTED, NewRun
from server.records.store import Store
from server.records.tables import RunRow

NEW = NewRun(
    mode="practice",
    target="skerry-7-third-passband-2khz",
    target_name="60 kHz passband, 2 kHz",
    receiver="Skerry 7",
    settings={"start_hz": 56000.0, "stop_hz": 64000.0},
    instruments=[{"role": "source", "address": "A", "identity": "Invented,SG,1,1", "state": "ready", "detail": None}],
)


def reading(index: int, value: float | None = 0.5, mark: Mark = Mark.GOOD) -> ReadingTaken:
    """Make a meter reading."""
    return ReadingTaken(index, 0.1 * index, "meter", "scan", value, "V", mark, 60000.0 + index, -60.0)


def at_noon() -> datetime:
    """Give the time of day of these tests."""
    return datetime(2026, 11, 25, 12, 0, 0, 500_000, tzinfo=UTC)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Where the record is."""
    return tmp_path / "made" / "by" / "the" / "store" / "record.sqlite"


@pytest.fixture
def store(path: Path) -> Iterator[Store]:
    """An open record."""
    opened = Store(path, now=at_noon)
    yield opened
    opened.close()


def test_a_run_comes_back_as_it_happened(store: Store) -> None:
    """Readings with their levels, events, ending and result."""
    run_id = store.begin_run(NEW)
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
    assert run["settings"] == NEW.settings
    assert run["instruments"] == NEW.instruments
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
    run_id = store.begin_run(NEW)
    store.keep(run_id, 0, reading(0, float("nan"), Mark.NOT_A_NUMBER))

    assert store.run(run_id)["readings"][0]["value"] is None


def test_the_latest_partial_fit_stands_where_there_is_no_result(store: Store) -> None:
    """A stopped scan shows what it had."""
    run_id = store.begin_run(NEW)
    for centre_hz in (1.0, 2.0):
        store.keep(run_id, 0, PartialFit({"centre_hz": centre_hz}))
    store.end_run(run_id, RunEnded(Ending.STOPPED, "The run was stopped.", True), None)

    assert store.run(run_id)["result"] == {"centre_hz": 2.0}


def test_progress_is_not_kept(store: Store) -> None:
    """It is over once it has been said."""
    run_id = store.begin_run(NEW)
    store.keep(run_id, 0, Progress(0.5, 1.0, "Half"))

    assert store.run(run_id)["events"] == []


def test_the_list_is_newest_first_with_figures_and_counts(store: Store) -> None:
    """Without the curves, which would make a long list slow."""
    first, second = store.begin_run(NEW), store.begin_run(NEW)
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


def test_a_number_is_never_given_twice(store: Store, path: Path) -> None:
    """A number written on a receiver must find its scan in ten years."""
    run_id = store.begin_run(NEW)
    store.close()

    assert Store(path).begin_run(NEW) == run_id + 1


def test_what_is_acknowledged_is_synchronised_to_disk(store: Store) -> None:
    """A power cut takes nothing that was shown."""
    with store._writing("read") as connection:  # noqa: SLF001 - the promise is in the connection's own settings
        pragmas = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar_one()
            for name in ("journal_mode", "synchronous", "busy_timeout", "foreign_keys")
        }

    # https://www.sqlite.org/pragma.html: synchronous 2 is FULL
    assert pragmas == {"journal_mode": "wal", "synchronous": 2, "busy_timeout": 5000, "foreign_keys": 1}


def test_a_reading_of_no_run_is_refused(store: Store) -> None:
    """Foreign keys are off in SQLite unless asked for."""
    with pytest.raises(StoreError, match="FOREIGN KEY"):
        store.keep(12345, 0, reading(0))


def test_a_run_that_another_living_service_has_on_is_left_alone(store: Store, path: Path) -> None:
    """Two services may share a record."""
    run_id = store.begin_run(NEW)

    second = Store(path)

    assert second.run(run_id)["ending"] is None
    second.close()


@pytest.mark.parametrize("owner", ["gone", "number given away again"])
def test_a_run_that_a_dead_service_left_open_is_marked_interrupted(store: Store, path: Path, owner: str) -> None:
    """Its process number may meanwhile belong to another program."""
    run_id = store.begin_run(NEW)
    ended = store.begin_run(NEW)
    store.end_run(ended, RunEnded(Ending.STOPPED, "The run was stopped.", True), None)
    child = subprocess.run([sys.executable, "-c", "import os; print(os.getpid())"], capture_output=True, check=True)
    dead = {"owner_pid": int(child.stdout)} if owner == "gone" else {"owner_began": psutil.Process().create_time() - 60}
    with store._writing("written") as connection:  # noqa: SLF001 - stands for a service that died
        connection.execute(update(RunRow).values(**dead))

    reopened = Store(path, now=at_noon)

    run = reopened.run(run_id)
    assert (run["ending"], run["ended_utc"]) == (INTERRUPTED, "2026-11-25T12:00:00.500Z")
    assert "service ended while this run was on" in run["ending_text"]
    assert reopened.run(ended)["ending"] == "stopped"
    reopened.close()


WRITER = """
import sys
from pathlib import Path
from typing import Any
from sequences.engine.events import ReadingTaken
from sequences.engine.instruments import Mark
from server.records.runs import NewRun
from server.records.store import Store
store = Store(Path(sys.argv[1]))
run_id = store.begin_run(NewRun("practice", "t", "t", "r", {}, []))
for index in range(1_000_000):
    store.keep(run_id, index, ReadingTaken(index, 0.0, "meter", "scan", 1.0, "V", Mark.GOOD, 1.0, 1.0))
    print(index, flush=True)
"""


def test_a_killed_writer_loses_nothing_that_it_acknowledged(path: Path) -> None:
    """Killed outright, in the middle of a run."""
    writer = subprocess.Popen([sys.executable, "-c", WRITER, str(path)], stdout=subprocess.PIPE, text=True)
    assert writer.stdout is not None
    acknowledged = [int(writer.stdout.readline()) for _ in range(50)][-1]
    writer.kill()
    acknowledged = max([acknowledged, *(int(line) for line in writer.stdout if line.endswith("\n"))])
    writer.stdout.close()
    writer.wait()

    store = Store(path)
    (run,) = store.runs()
    kept = store.run(run["id"])["readings"]
    store.close()

    assert run["ending"] == INTERRUPTED
    assert [row["index"] for row in kept][: acknowledged + 1] == list(range(acknowledged + 1))


def test_a_file_that_is_no_record_is_refused_in_one_sentence(tmp_path: Path) -> None:
    """And left as it is."""
    path = tmp_path / "letter.txt"
    path.write_text("Dear Sir, " * 1000, encoding="utf-8")

    with pytest.raises(StoreError, match=r"letter\.txt cannot be opened \(file is not a database\)"):
        Store(path)


def test_a_record_of_a_newer_program_is_not_touched(store: Store, path: Path) -> None:
    """It could not be read back by the one that wrote it."""
    with store._writing("written") as connection:  # noqa: SLF001 - stands for a newer program
        connection.exec_driver_sql("PRAGMA user_version=99")
    store.close()

    with pytest.raises(StoreError, match="newer Peakwright"):
        Store(path)


def test_a_folder_that_cannot_be_made_is_named(tmp_path: Path) -> None:
    """With what to do."""
    (tmp_path / "file").write_text("", encoding="utf-8")

    with pytest.raises(StoreError, match="give another --store"):
        Store(tmp_path / "file" / "record.sqlite")
