"""Transactions on the record, and the one sentence that a fault of the database becomes."""

import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from uuid import uuid4

from sqlalchemy import Select, select
from sqlalchemy.engine import Connection
from sqlalchemy.exc import OperationalError, SQLAlchemyError

from server.errors import StoreError
from server.records.owner import Owner
from server.records.place import open_engine, record_place
from server.records.record_file import RecordFile

LARGEST_NUMBER = 2**31 - 1
"""The largest number of a run, job, remark or photo: what every database holds as an integer."""

LONGEST_WAIT_S = 6.0
"""How long a database server may refuse connections before what should be written is given up: it may be restarting."""

PAUSE_S = 0.25

Row = dict[str, Any]
"""One row by column name."""


def utc_now() -> datetime:
    """Give the time of day."""
    return datetime.now(UTC)


def stamp(moment: datetime) -> str:
    """Write a time of day as the record does."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def new_uid() -> str:
    """Give a name that nobody gave before."""
    return uuid4().hex


class Database:
    """An open record. Safe to use from several threads; on SQLite writes wait for one another."""

    def __init__(
        self,
        where: str | Path,
        *,
        now: Callable[[], datetime] = utc_now,
        uid: Callable[[], str] = new_uid,
    ) -> None:
        """Open `where`, a path or a URL.

        Raises:
            StoreError: it is no place for a record, or cannot be reached.
        """
        self.place = record_place(where)
        self._now = now
        self._uid = uid
        self._owner = Owner.this_process()
        self._engine = open_engine(self.place)
        self._file = None if self.place.file is None else RecordFile(self.place.file)
        if self._file is not None:
            self._file.prepare()
        self._writer = self._engine.execution_options(begin="IMMEDIATE")
        self._reader = self._engine
        if self.place.file is None:  # each question sees what was committed before it, in a transaction or not
            self._reader = self._engine.execution_options(isolation_level="AUTOCOMMIT")

    def close(self) -> None:
        """Let go of the record."""
        self._engine.dispose()

    def _stamp(self) -> str:
        return stamp(self._now())

    @contextmanager
    def _writing(self, what: str = "written") -> Iterator[Connection]:
        """Begin by taking the write lock: a transaction that reads first and writes later may be refused half way."""
        self.require_place()
        with self._told(what), self._connected() as connection, connection.begin():
            yield connection

    def require_place(self) -> None:
        """Refuse to go on where the record's file is no longer where it was.

        Raises:
            StoreError: it was moved, deleted or replaced.
        """
        if self._file is not None:
            self._file.require()

    def check(self) -> None:
        """Ask the record whether it is there.

        Raises:
            StoreError: it is not, or does not answer.
        """
        self.require_place()
        with self._reading() as connection:
            connection.execute(select(1))

    @contextmanager
    def _connected(self) -> Iterator[Connection]:
        """Connect, and wait a little for a database server that is starting afresh."""
        began_s = time.monotonic()
        while True:
            try:
                connection = self._writer.connect()
                break
            except OperationalError:
                if self._file is not None or time.monotonic() - began_s > LONGEST_WAIT_S:
                    raise
            time.sleep(PAUSE_S)
        with connection:
            yield connection

    @contextmanager
    def _reading(self) -> Iterator[Connection]:
        with self._told("read"), self._reader.connect() as connection:
            yield connection

    @contextmanager
    def _told(self, what: str) -> Iterator[None]:
        try:
            yield
        except SQLAlchemyError as error:
            reason = str(getattr(error, "orig", error)).strip().split("\n")[0]
            sentence = f"The record {self.place.shown} cannot be {what} ({reason}); give another --store."
            raise StoreError(sentence) from error


def rows_of(connection: Connection, question: Select[Any]) -> list[Row]:
    """Give the rows of an answer as plain dicts, quicker than by SQLAlchemy's own mappings."""
    answer = connection.execute(question)
    names = tuple(answer.keys())
    return [dict(zip(names, row, strict=True)) for row in answer]
