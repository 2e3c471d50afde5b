"""The tables of the record."""

from typing import Any

from sqlalchemy import JSON, ForeignKey
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column

SCHEMA_VERSION = 1
"""Kept in the file itself, so that an older program never writes into a newer record."""


class Table(DeclarativeBase):
    """The root of the tables."""

    type_annotation_map = {dict[str, Any]: JSON(none_as_null=True), list[Any]: JSON(none_as_null=True)}  # noqa: RUF012 - read once by SQLAlchemy


class RunRow(Table):
    """One run: what was asked, with which instruments, how it ended and what it gave."""

    __tablename__ = "runs"

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=True)
    started_utc: Mapped[str]
    ended_utc: Mapped[str | None]
    mode: Mapped[str]
    target: Mapped[str]
    target_name: Mapped[str]
    receiver: Mapped[str]
    settings: Mapped[dict[str, Any]]
    instruments: Mapped[list[Any]]
    ending: Mapped[str | None]
    """None while it is on; else completed, stopped, failed or interrupted."""
    ending_text: Mapped[str | None]
    output_off: Mapped[bool | None]
    result: Mapped[dict[str, Any] | None]
    """The latest fit while it is on, the figures of the outcome after it."""
    owner_pid: Mapped[int]
    owner_began: Mapped[float]
    """With the pid, tells a service that runs from one that crashed and whose number was given away again."""

    __table_args__ = {"sqlite_autoincrement": True}  # noqa: RUF012 - read once by SQLAlchemy


class ReadingRow(Table):
    """One reading. Units: s, Hz, dBm, dB; `value` in `unit`."""

    __tablename__ = "readings"

    run_id: Mapped[int] = mapped_column(ForeignKey("runs.id"), primary_key=True)
    index: Mapped[int] = mapped_column(primary_key=True)
    seq: Mapped[int]
    time_s: Mapped[float]
    role: Mapped[str]
    purpose: Mapped[str]
    value: Mapped[float | None]
    unit: Mapped[str]
    mark: Mapped[str]
    frequency_hz: Mapped[float | None]
    power_dbm: Mapped[float | None]
    level_db: Mapped[float | None]
    used: Mapped[bool | None]
    """Whether the level entered the fit; None where the reading served another purpose."""


class EventRow(Table):
    """One event that is neither a reading nor its level: the source changed, a notice, a question."""

    __tablename__ = "events"

    run_id: Mapped[int] = mapped_column(ForeignKey("runs.id"), primary_key=True)
    seq: Mapped[int] = mapped_column(primary_key=True)
    body: Mapped[dict[str, Any]]
