"""Where a record is kept, and how it is opened: a SQLite file, or a PostgreSQL database that several benches share."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sqlalchemy import Engine, create_engine, event, make_url
from sqlalchemy.engine import URL, Connection
from sqlalchemy.exc import ArgumentError

from server.errors import StoreError
from server.records.record_file import make_private_folder

POSTGRESQL = "postgresql+psycopg"
KINDS = "a path, sqlite:///PATH or postgresql://USER@HOST/DATABASE"


@dataclass(frozen=True, slots=True)
class RecordPlace:
    """A place for a record. `shown` names it to a person, without a password."""

    url: URL
    shown: str

    @property
    def file(self) -> Path | None:
        """Give the file, or None where the record is no file."""
        return Path(self.url.database or "") if self.url.get_backend_name() == "sqlite" else None


def record_place(where: str | Path) -> RecordPlace:
    """Understand a path or URL.

    Raises:
        StoreError: it is neither; the sentence says what may be given.
    """
    if isinstance(where, Path) or "://" not in where:
        return RecordPlace(URL.create("sqlite", database=str(where)), str(where))
    try:
        url = make_url(where)
    except (ArgumentError, ValueError) as error:
        raise StoreError(f"The --store given is no place for a record; give {KINDS}.") from error
    shown = url.render_as_string(hide_password=True)
    if url.drivername == "sqlite" and url.database:
        return RecordPlace(url, url.database)
    if url.drivername in {"postgres", "postgresql", POSTGRESQL}:
        return RecordPlace(url.set(drivername=POSTGRESQL), shown)
    raise StoreError(f"{shown} is no place for a record; give {KINDS}.")


def open_engine(place: RecordPlace) -> Engine:
    """Give the engine of a record; nothing is connected yet.

    Raises:
        StoreError: its folder cannot be made, or the driver is not installed.
    """
    if place.file is None:
        return _postgresql_engine(place)
    try:
        make_private_folder(place.file.parent)
    except OSError as error:
        sentence = f"The folder {place.file.parent} cannot be made ({error.strerror}); give another --store."
        raise StoreError(sentence) from error
    return _sqlite_engine(place)


def _sqlite_engine(place: RecordPlace) -> Engine:
    """A write-ahead log and full synchronisation: what was acknowledged survives a kill and a power cut."""
    engine = create_engine(place.url)

    @event.listens_for(engine, "connect")
    def _set_up(connection: Any, _record: object) -> None:  # noqa: ANN401 - the driver's own class
        connection.isolation_level = None  # the driver's implicit BEGIN is replaced by our own below
        for pragma in ("journal_mode=WAL", "synchronous=FULL", "busy_timeout=5000", "foreign_keys=ON"):
            connection.execute(f"PRAGMA {pragma}")
        # SQLite by itself knows the letters of English only
        connection.create_function("lower", 1, lambda text: text and text.lower(), deterministic=True)

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        connection.exec_driver_sql(f"BEGIN {connection.get_execution_options().get('begin', 'DEFERRED')}")

    return engine


def _postgresql_engine(place: RecordPlace) -> Engine:
    """What was acknowledged is on the server's disk, whatever its own default says."""
    try:
        from server.records.patient_postgresql import (  # noqa: PLC0415 - an extra that may be missing
            LONGEST_ANSWER_S,
            PatientConnection,
        )

        engine = create_engine(
            place.url,
            pool_pre_ping=True,
            connect_args={
                "options": "-c synchronous_commit=on",
                "application_name": "peakwright",
                "connect_timeout": round(LONGEST_ANSWER_S),
            },
        )
    except ModuleNotFoundError as error:
        sentence = "A record in PostgreSQL needs the package psycopg; install peakwright[postgresql]."
        raise StoreError(sentence) from error

    @event.listens_for(engine, "do_connect")
    def _connect(_dialect: object, _record: object, arguments: list[Any], named: dict[str, Any]) -> PatientConnection:
        return PatientConnection.connect(*arguments, **named)

    return engine
