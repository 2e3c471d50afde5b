"""A record opens in a file or a database, older ones are brought up to date, and what cannot be is one sentence."""

import sqlite3
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import text

from server.errors import StoreError
from server.records.place import open_engine, record_place
from server.records.schema import MIGRATIONS, NEWEST
from server.records.store import Store
from server.records.tables import Table
from tests.postgresql import Cluster
from tests.server.records.samples import JOB, SCAN, reading

BEFORE_JOBS = """
CREATE TABLE runs (
	id INTEGER NOT NULL PRIMARY KEY AUTOINCREMENT,
	started_utc VARCHAR NOT NULL, ended_utc VARCHAR, mode VARCHAR NOT NULL, target VARCHAR NOT NULL,
	target_name VARCHAR NOT NULL, receiver VARCHAR NOT NULL, settings JSON NOT NULL, instruments JSON NOT NULL,
	ending VARCHAR, ending_text VARCHAR, output_off BOOLEAN, result JSON,
	owner_pid INTEGER NOT NULL, owner_began FLOAT NOT NULL
);
CREATE TABLE readings (
	run_id INTEGER NOT NULL, "index" INTEGER NOT NULL, seq INTEGER NOT NULL, time_s FLOAT NOT NULL,
	role VARCHAR NOT NULL, purpose VARCHAR NOT NULL, value FLOAT, unit VARCHAR NOT NULL, mark VARCHAR NOT NULL,
	frequency_hz FLOAT, power_dbm FLOAT, level_db FLOAT, used BOOLEAN,
	PRIMARY KEY (run_id, "index"), FOREIGN KEY(run_id) REFERENCES runs (id)
);
CREATE TABLE events (
	run_id INTEGER NOT NULL, seq INTEGER NOT NULL, body JSON NOT NULL,
	PRIMARY KEY (run_id, seq), FOREIGN KEY(run_id) REFERENCES runs (id)
);
INSERT INTO runs VALUES (
	7, '2026-11-24T10:00:00.000Z', '2026-11-24T10:01:00.000Z', 'bench', 't', 'T', 'Skerry 7', '{"start_hz": 1.0}', '[]',
	'completed', 'The run is complete.', 1, '{"centre_hz": 60010.0}', 1, 1.0
), (
	8, '2026-11-24T11:00:00.000Z', NULL, 'bench', 't', 'T', 'Skerry 7', '{}', '[]', NULL, NULL, NULL, NULL, 1, 1.0
);
INSERT INTO readings VALUES (7, 0, 1, 0.1, 'meter', 'scan', 0.5, 'V', 'good', 60000.0, -60.0, -6.0, 1);
INSERT INTO readings VALUES (8, 0, 1, 0.1, 'meter', 'scan', 0.5, 'V', 'good', 60000.0, -60.0, NULL, NULL);
INSERT INTO events VALUES (7, 2, '{"kind": "Notice", "text": "A reply was lost."}');
PRAGMA user_version=1;
"""
"""A record as the first version wrote it: the tables as SQLite told them, with two scans."""


@pytest.fixture
def old(tmp_path: Path) -> Path:
    """A record from before there were jobs."""
    path = tmp_path / "old.sqlite"
    with closing(sqlite3.connect(path)) as connection:
        connection.executescript(BEFORE_JOBS)
    return path


def test_a_record_from_before_jobs_opens_with_all_it_holds(old: Path) -> None:
    store = Store(old)

    later, earlier = store.runs()
    run = store.run(7)

    assert (earlier["id"], earlier["readings"], earlier["centre_hz"], earlier["job_id"]) == (7, 1, 60010.0, None)
    assert (later["id"], later["readings"], later["ending"]) == (8, 1, "interrupted")
    assert (run["readings"][0]["level_db"], run["readings"][0]["used"]) == (-6.0, True)
    assert run["events"] == [{"seq": 2, "kind": "Notice", "text": "A reply was lost."}]
    assert store.begin_run(SCAN) == 9
    assert store.begin_job(JOB) == 1
    store.close()


def test_a_record_from_before_jobs_that_was_migrated_tells_older_programs_to_keep_off(old: Path) -> None:
    """They know no migrations, and look at this number only."""
    Store(old).close()

    with closing(sqlite3.connect(old)) as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (2,)


def test_a_migration_that_fails_leaves_the_old_record_as_it_was(old: Path) -> None:
    with closing(sqlite3.connect(old)) as connection:
        connection.executescript("CREATE TABLE photos (mine TEXT)")  # in the way of the last table but one

    with pytest.raises(StoreError, match="photos already exists"):
        Store(old)

    with closing(sqlite3.connect(old)) as connection:
        tables = {name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
        assert tables == {"runs", "readings", "events", "photos", "sqlite_sequence"}
        assert connection.execute("PRAGMA user_version").fetchone() == (1,)


def test_migrations_lead_to_the_tables_that_the_program_uses(store: Store) -> None:
    """Compared by Alembic itself, column by column and index by index."""
    with store._reading() as connection:  # noqa: SLF001 - the tables are looked at from below
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, Table.metadata) == []


def test_the_newest_version_is_the_last_migration() -> None:
    assert ScriptDirectory(str(MIGRATIONS)).get_heads() == [NEWEST]


@pytest.mark.parametrize("version", [str(int(NEWEST) + 1), "99", "0f3c"])
def test_a_record_of_a_newer_program_is_not_touched(store: Store, place: str, version: str) -> None:
    """It could not be read back by the one that wrote it."""
    with store._writing("written") as connection:  # noqa: SLF001 - stands for a newer program
        connection.execute(text("UPDATE alembic_version SET version_num = :version"), {"version": version})
    store.close()

    with pytest.raises(StoreError, match="was written by a newer Peakwright; use that, or give another --store"):
        Store(place)


def test_two_programs_may_make_one_record_at_once(place: str) -> None:
    """One makes the tables, the other waits and finds them."""
    program = "import sys; from server.records.store import Store; Store(sys.argv[1]).close()"
    both = [subprocess.Popen([sys.executable, "-c", program, place], stderr=subprocess.PIPE) for _ in range(2)]

    assert [each.communicate()[1] for each in both] == [b"", b""]


def test_what_is_acknowledged_is_synchronised_to_disk(tmp_path: Path) -> None:
    """A power cut takes nothing that was shown."""
    store = Store(tmp_path / "record.sqlite")
    with store._writing("read") as connection:  # noqa: SLF001 - the promise is in the connection's own settings
        pragmas = {
            name: connection.exec_driver_sql(f"PRAGMA {name}").scalar_one()
            for name in ("journal_mode", "synchronous", "busy_timeout", "foreign_keys")
        }
    store.close()

    # https://www.sqlite.org/pragma.html: synchronous 2 is FULL
    assert pragmas == {"journal_mode": "wal", "synchronous": 2, "busy_timeout": 5000, "foreign_keys": 1}


def test_what_is_acknowledged_is_synchronised_on_the_server_too(postgresql: Cluster) -> None:
    """Even where the database as a whole is told to be quick. PostgreSQL's manual: on waits for the local flush."""
    with postgresql.database() as url:
        store = Store(url)
        with store._writing("written") as connection:  # noqa: SLF001 - stands for an administrator
            name = connection.exec_driver_sql("SELECT current_database()").scalar_one()
            connection.exec_driver_sql(f"ALTER DATABASE {name} SET synchronous_commit = off")
        store.close()
        store = Store(url)
        with store._reading() as connection:  # noqa: SLF001 - the promise is in the connection's own settings
            assert connection.exec_driver_sql("SHOW synchronous_commit").scalar_one() == "on"
        store.close()


def test_a_run_of_another_machine_is_left_to_that_machine(postgresql: Cluster) -> None:
    """Its process numbers mean nothing here."""
    with postgresql.database() as url:
        store = Store(url)
        run_id = store.begin_run(SCAN)
        store.keep(run_id, 0, reading(0))
        with store._writing("written") as connection:  # noqa: SLF001 - stands for another bench
            connection.exec_driver_sql("UPDATE runs SET owner_host = 'bench-2', owner_pid = 1, owner_began = 1")
        again = Store(url)

        assert again.run(run_id)["ending"] is None
        again.close()
        store.close()


def test_a_folder_is_made_for_a_record(tmp_path: Path) -> None:
    Store(tmp_path / "made" / "by" / "the" / "store" / "record.sqlite").close()

    assert (tmp_path / "made" / "by" / "the" / "store" / "record.sqlite").exists()


def test_a_file_that_is_no_record_is_refused_in_one_sentence(tmp_path: Path) -> None:
    """And left as it is."""
    path = tmp_path / "letter.txt"
    path.write_text("Dear Sir, " * 1000, encoding="utf-8")

    with pytest.raises(StoreError, match=r"letter\.txt cannot be opened \(file is not a database\)"):
        Store(path)


def test_the_database_of_something_else_is_left_alone(place: str) -> None:
    """It may hold somebody's addresses."""
    engine = open_engine(record_place(place))
    with engine.begin() as connection:
        connection.exec_driver_sql("CREATE TABLE addresses (name VARCHAR(9))")
    engine.dispose()

    with pytest.raises(StoreError, match="is the database of something else; give another --store"):
        Store(place)


def test_a_folder_that_cannot_be_made_is_named(tmp_path: Path) -> None:
    """With what to do."""
    (tmp_path / "file").write_text("", encoding="utf-8")

    with pytest.raises(StoreError, match="give another --store"):
        Store(tmp_path / "file" / "record.sqlite")


@pytest.mark.parametrize("where", ["mysql://u:secret@h/d", "://", "postgresql+other://u:secret@h/d", "sqlite://"])
def test_what_is_no_place_for_a_record_is_said_to_be_none_without_its_password(where: str) -> None:
    with pytest.raises(StoreError, match="is no place for a record; give a path, sqlite:///PATH or") as caught:
        Store(where)

    assert "secret" not in str(caught.value)


def test_a_server_that_does_not_answer_is_one_sentence_without_its_password(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="cannot be opened") as caught:
        Store(f"postgresql://u:secret@/d?host={tmp_path}")

    assert "\n" not in str(caught.value)
    assert "secret" not in str(caught.value)


def test_without_its_driver_postgresql_is_refused_in_one_sentence(monkeypatch: pytest.MonkeyPatch) -> None:
    """The driver is an extra: most records are files."""
    monkeypatch.setitem(sys.modules, "psycopg", None)

    with pytest.raises(StoreError, match=r"needs the package psycopg; install peakwright\[postgresql\]"):
        Store("postgresql://u@h/d")


def test_a_connection_that_was_lost_meanwhile_is_made_anew(postgresql: Cluster) -> None:
    """The database server may be started afresh while a bench stands idle."""
    with postgresql.database() as url:
        store, other = Store(url), Store(url)
        run_id = store.begin_run(SCAN)
        with other._reading() as connection:  # noqa: SLF001 - stands for a server that was started afresh
            connection.exec_driver_sql(
                "SELECT pg_terminate_backend(pid) FROM pg_stat_activity "
                "WHERE datname = current_database() AND pid <> pg_backend_pid()"
            )
        store.keep(run_id, 0, reading(0))

        assert len(store.run(run_id)["readings"]) == 1
        other.close()
        store.close()


def test_sqlite_may_be_asked_for_by_url(tmp_path: Path) -> None:
    Store(f"sqlite:///{tmp_path}/record.sqlite").close()

    assert (tmp_path / "record.sqlite").exists()
