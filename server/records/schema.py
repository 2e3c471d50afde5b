"""The version of a record's tables: an older one is brought up to date, a newer one is left alone."""

from pathlib import Path
from typing import Final

from sqlalchemy import inspect, text
from sqlalchemy.engine import Connection

from server.errors import StoreError

NEWEST: Final = "5"
"""The last migration there is."""

BEFORE_MIGRATIONS: Final = "1"
"""What a record is that has tables but no version."""

MIGRATIONS = Path(__file__).parent / "migrations"
PREPARING_LOCK = 7_325_742
"""Any number, the same in every program: of two that open one new database at once, one waits."""


def bring_up_to_date(connection: Connection, shown: str) -> None:
    """Make the tables of a new record, or migrate those of an older one, within the connection's transaction.

    Raises:
        StoreError: the record is newer than this program, or is something else; `shown` names it.
    """
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": PREPARING_LOCK})
    version = _version(connection)
    if version == NEWEST:
        return
    if version is not None and not (version.isdigit() and int(version) < int(NEWEST)):
        raise StoreError(f"The record {shown} was written by a newer Peakwright; use that, or give another --store.")
    tables = inspect(connection).get_table_names()
    if version is None and tables and "runs" not in tables:
        raise StoreError(f"{shown} is the database of something else; give another --store.")
    _migrate(connection, from_before=version is None and bool(tables))


def _version(connection: Connection) -> str | None:
    if not inspect(connection).has_table("alembic_version"):
        return None
    version: str | None = connection.execute(text("SELECT version_num FROM alembic_version")).scalar_one_or_none()
    return version


def _migrate(connection: Connection, *, from_before: bool) -> None:
    from alembic import command  # noqa: PLC0415 - takes its time, and is seldom needed
    from alembic.config import Config  # noqa: PLC0415 - the same

    config = Config(attributes={"connection": connection})
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    if from_before:
        command.stamp(config, BEFORE_MIGRATIONS)
    command.upgrade(config, NEWEST)
