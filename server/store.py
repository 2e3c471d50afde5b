"""The record: every run, reading and event, on disk before anybody sees it.

SQLite with a write-ahead log and full synchronisation: what was acknowledged survives a kill and a power cut.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import singledispatchmethod
from pathlib import Path
from typing import Any

import psutil
from sqlalchemy import Engine, RowMapping, create_engine, event, func, insert, select, update
from sqlalchemy.engine import Connection
from sqlalchemy.exc import SQLAlchemyError

from sequences.engine.events import Event, Guidance, LevelTaken, PartialFit, Progress, ReadingTaken, RunEnded
from server.errors import StoreError, UnknownThing
from server.plain import event_to_plain, to_plain
from server.tables import SCHEMA_VERSION, EventRow, ReadingRow, RunRow, Table

INTERRUPTED = "interrupted"
INTERRUPTED_TEXT = "The service ended while this run was on; what was read until then is kept."

LARGEST_NUMBER = 2**63 - 1
"""What SQLite can hold as an integer."""

MAIN_FIGURES = ("centre_hz", "centre_sigma_hz", "width_3db_hz")
"""Read out of the result by the database, so that a long list does not load every curve."""

Row = dict[str, Any]
"""One row by column name."""


@dataclass(frozen=True, slots=True)
class NewRun:
    """What is known of a run before it begins."""

    mode: str
    target: str
    target_name: str
    receiver: str
    settings: dict[str, Any]
    instruments: list[dict[str, Any]]


def utc_now() -> datetime:
    """Give the time of day."""
    return datetime.now(UTC)


class Store:
    """One record file. Safe to use from several threads; writes wait for one another."""

    def __init__(self, path: Path, *, now: Callable[[], datetime] = utc_now) -> None:
        """Open or create the file.

        Raises:
            StoreError: it cannot be opened, or was written by a newer program.
        """
        self._path = path
        self._now = now
        process = psutil.Process()
        self._owner = (process.pid, process.create_time())
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            sentence = f"The folder {path.parent} cannot be made ({error.strerror}); give another --store."
            raise StoreError(sentence) from error
        self._engine = _open_engine(path)
        self._writer = self._engine.execution_options(begin="IMMEDIATE")
        with self._writing("opened") as connection:
            _prepare_schema(connection, path)
        self._close_orphans()

    def close(self) -> None:
        """Let go of the file."""
        self._engine.dispose()

    def begin_run(self, new: NewRun) -> int:
        """Enter a new run and give its number."""
        values = {
            **to_plain(new),
            "started_utc": self._stamp(),
            "owner_pid": self._owner[0],
            "owner_began": self._owner[1],
        }
        with self._writing("written") as connection:
            result = connection.execute(insert(RunRow).values(**values).returning(RunRow.id))
            return int(result.scalar_one())

    def keep(self, run_id: int, seq: int, happened: Event) -> None:
        """Put an event on disk. Progress and guidance are not kept, and a partial fit replaces the one before it.

        Raises:
            StoreError: the event is not on disk.
        """
        if isinstance(happened, Progress | Guidance):
            return
        with self._writing("written") as connection:
            self._keep(happened, connection, run_id, seq)

    @singledispatchmethod
    def _keep(self, happened: Event, connection: Connection, run_id: int, seq: int) -> None:
        connection.execute(insert(EventRow), {"run_id": run_id, "seq": seq, "body": event_to_plain(happened)})

    @_keep.register
    def _(self, happened: ReadingTaken, connection: Connection, run_id: int, seq: int) -> None:
        connection.execute(insert(ReadingRow), {"run_id": run_id, "seq": seq, **to_plain(happened)})

    @_keep.register
    def _(self, happened: LevelTaken, connection: Connection, run_id: int, seq: int) -> None:  # noqa: ARG002 - one shape for all
        reading = (ReadingRow.run_id == run_id) & (ReadingRow.index == happened.reading_index)
        level = to_plain(happened.level_db)
        connection.execute(update(ReadingRow).where(reading).values(level_db=level, used=happened.used))

    @_keep.register
    def _(self, happened: PartialFit, connection: Connection, run_id: int, seq: int) -> None:  # noqa: ARG002 - one shape for all
        connection.execute(update(RunRow).where(RunRow.id == run_id).values(result=to_plain(happened.figures)))

    def end_run(self, run_id: int, ended: RunEnded, result: dict[str, Any] | None) -> None:
        """Enter how a run ended, and its figures where it has any; without them the latest partial fit stands."""
        values: Row = {
            "ended_utc": self._stamp(),
            "ending": ended.ending.value,
            "ending_text": ended.text,
            "output_off": ended.output_off,
        }
        if result is not None:
            values["result"] = to_plain(result)
        with self._writing("written") as connection:
            connection.execute(update(RunRow).where(RunRow.id == run_id).values(**values))

    def runs(self) -> list[Row]:
        """Give every run, newest first, with the main figures in place of its result and the number of readings."""
        count = select(func.count()).where(ReadingRow.run_id == RunRow.id).scalar_subquery()
        plain = [column for column in RunRow.__table__.columns if column.name != "result"]
        figures = [RunRow.result[name].as_float().label(name) for name in MAIN_FIGURES]
        question = select(*plain, *figures, count.label("readings")).order_by(RunRow.id.desc())
        with self._reading() as connection:
            return [dict(row) for row in connection.execute(question).mappings()]

    def run(self, run_id: int) -> Row:
        """Give one run with its `readings` and `events`, in order.

        Raises:
            UnknownThing: there is no such run.
        """
        readings = select(ReadingRow.__table__).where(ReadingRow.run_id == run_id).order_by(ReadingRow.index)
        events = select(EventRow.__table__).where(EventRow.run_id == run_id).order_by(EventRow.seq)
        with self._reading() as connection:
            run = _find_run(connection, run_id)
            if run is None:
                raise UnknownThing(f"There is no scan number {run_id}; GET /api/scans lists those there are.")
            return {
                **run,
                "readings": [dict(row) for row in connection.execute(readings).mappings()],
                "events": [{"seq": row["seq"], **row["body"]} for row in connection.execute(events).mappings()],
            }

    def _close_orphans(self) -> None:
        """Mark as interrupted the runs that a service left open by its death. Another that lives keeps its own."""
        open_runs = select(RunRow.id, RunRow.owner_pid, RunRow.owner_began).where(RunRow.ending.is_(None))
        with self._writing("written") as connection:
            orphans = [row.id for row in connection.execute(open_runs) if not _lives(row.owner_pid, row.owner_began)]
            values = {"ending": INTERRUPTED, "ending_text": INTERRUPTED_TEXT, "ended_utc": self._stamp()}
            connection.execute(update(RunRow).where(RunRow.id.in_(orphans)).values(**values))

    def _stamp(self) -> str:
        return self._now().isoformat(timespec="milliseconds").replace("+00:00", "Z")

    @contextmanager
    def _writing(self, what: str) -> Iterator[Connection]:
        """Begin by taking the write lock: a transaction that reads first and writes later may be refused half way."""
        with self._told(what), self._writer.begin() as connection:
            yield connection

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        with self._told("read"), self._engine.connect() as connection:
            yield connection

    @contextmanager
    def _told(self, what: str) -> Iterator[None]:
        try:
            yield
        except SQLAlchemyError as error:
            reason = str(getattr(error, "orig", error))
            sentence = f"The record {self._path} cannot be {what} ({reason}); give another --store."
            raise StoreError(sentence) from error


def _open_engine(path: Path) -> Engine:
    engine = create_engine(f"sqlite:///{path}")

    @event.listens_for(engine, "connect")
    def _set_up(connection: Any, _record: object) -> None:  # noqa: ANN401 - the driver's own class
        connection.isolation_level = None  # the driver's implicit BEGIN is replaced by our own below
        for pragma in ("journal_mode=WAL", "synchronous=FULL", "busy_timeout=5000", "foreign_keys=ON"):
            connection.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        connection.exec_driver_sql(f"BEGIN {connection.get_execution_options().get('begin', 'DEFERRED')}")

    return engine


def _prepare_schema(connection: Connection, path: Path) -> None:
    version = int(connection.exec_driver_sql("PRAGMA user_version").scalar_one())
    if version > SCHEMA_VERSION:
        raise StoreError(f"The record {path} was written by a newer Peakwright; use that, or give another --store.")
    Table.metadata.create_all(connection)
    connection.exec_driver_sql(f"PRAGMA user_version={SCHEMA_VERSION}")


def _find_run(connection: Connection, run_id: int) -> RowMapping | None:
    if not 0 < run_id <= LARGEST_NUMBER:
        return None
    return connection.execute(select(RunRow.__table__).where(RunRow.id == run_id)).mappings().one_or_none()


def _lives(pid: int, began: float) -> bool:
    try:
        return abs(psutil.Process(pid).create_time() - began) < 1.0
    except psutil.Error:
        return False
