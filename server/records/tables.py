"""The tables of the record. Times of day are ISO 8601 in UTC to the millisecond, as text.

A table's shape is changed by a migration beside this module, never here alone.
"""

from typing import Any

from sqlalchemy import JSON, Float, ForeignKey, Index, LargeBinary, MetaData
from sqlalchemy.orm import DeclarativeBase, Mapped, mapped_column

NAMES = {"ix": "ix_%(table_name)s_%(column_0_N_name)s", "fk": "fk_%(table_name)s_%(column_0_N_name)s"}
"""So that a migration can name what it changes, on every database alike."""

NUMBERED = {"sqlite_autoincrement": True}
"""A number written on a receiver must find its entry in ten years: none is given twice."""


class Table(DeclarativeBase):
    """The root of the tables."""

    metadata = MetaData(naming_convention=NAMES)
    type_annotation_map = {  # noqa: RUF012 - read once by SQLAlchemy
        float: Float(),
        dict[str, Any]: JSON(none_as_null=True),
        list[Any]: JSON(none_as_null=True),
    }


class JobRow(Table):
    """One receiver on the bench."""

    __tablename__ = "jobs"

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=True)
    uid: Mapped[str] = mapped_column(unique=True)
    """The same in every record the job is carried to."""
    started_utc: Mapped[str]
    ended_utc: Mapped[str | None]
    state: Mapped[str]
    """open, paused or done."""
    receiver_id: Mapped[str]
    receiver_name: Mapped[str]
    receiver_file: Mapped[str]
    """The text of the receiver file the job began with, and goes on with."""
    mode: Mapped[str]
    seed: Mapped[int | None]
    owner: Mapped[str]
    make: Mapped[str]
    serial: Mapped[str]
    operator: Mapped[str]
    room_temperature_c: Mapped[float | None]
    calibration_note: Mapped[str]
    instruments: Mapped[list[Any]]
    remark: Mapped[str]
    claim_host: Mapped[str | None]
    """With the two below: the program that has the job in hand; None where none has."""
    claim_pid: Mapped[int | None]
    claim_began: Mapped[float | None]

    __table_args__ = (Index(None, "receiver_id", "serial"), Index(None, "started_utc"), NUMBERED)


class ProgramRow(Table):
    """A program that has, or had, a job in hand or a run on in a record that several machines share."""

    __tablename__ = "programs"

    host: Mapped[str] = mapped_column(primary_key=True)
    pid: Mapped[int] = mapped_column(primary_key=True)
    began: Mapped[float] = mapped_column(primary_key=True)
    seen_s: Mapped[float]
    """When it last gave a sign of life: seconds since 1970 by the database's clock."""


class OutputRow(Table):
    """A source whose output may be on, as this machine reaches it."""

    __tablename__ = "outputs"

    host: Mapped[str] = mapped_column(primary_key=True)
    address: Mapped[str] = mapped_column(primary_key=True)
    since_utc: Mapped[str]


class NoteRow(Table):
    """One note of where an alignment stands, in the order they were made."""

    __tablename__ = "notes"

    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"), primary_key=True)
    seq: Mapped[int] = mapped_column(primary_key=True)
    at_utc: Mapped[str]
    kind: Mapped[str]
    body: Mapped[dict[str, Any]]
    run_id: Mapped[int | None]
    """The run that a measurement came from."""


class AnswerRow(Table):
    """One question to the person with its answer."""

    __tablename__ = "answers"

    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"), primary_key=True)
    seq: Mapped[int] = mapped_column(primary_key=True)
    at_utc: Mapped[str]
    asked: Mapped[dict[str, Any]]
    answer: Mapped[str]


class StepRow(Table):
    """How an ended step of a job stands. Worked out from the notes, and kept so that jobs are found by it."""

    __tablename__ = "steps"

    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"), primary_key=True)
    step_id: Mapped[str] = mapped_column(primary_key=True)
    ending: Mapped[str]
    """good, off, suspect, blocked, unjudged or unmeasured."""
    verdict: Mapped[str | None]
    """The verdict that the ending rests on."""
    adjusted: Mapped[bool]


class FigureRow(Table):
    """One figure of one measurement. Worked out from the notes, and kept so that years of them are read at once."""

    __tablename__ = "figures"

    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"), primary_key=True)
    note_seq: Mapped[int] = mapped_column(primary_key=True)
    place: Mapped[int] = mapped_column(primary_key=True)
    at_utc: Mapped[str]
    step_id: Mapped[str]
    phase: Mapped[str]
    name: Mapped[str]
    where: Mapped[str]
    unit: Mapped[str]
    value: Mapped[float | None]
    sigma: Mapped[float | None]
    verdict: Mapped[str | None]

    __table_args__ = (Index(None, "step_id", "verdict"), Index(None, "verdict"))


class RemarkRow(Table):
    """What a person wrote down, of a step or of the whole job."""

    __tablename__ = "remarks"

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"), index=True)
    step_id: Mapped[str | None]
    at_utc: Mapped[str]
    text: Mapped[str]

    __table_args__ = NUMBERED


class PhotoRow(Table):
    """A photo, of a step or of the whole job."""

    __tablename__ = "photos"

    id: Mapped[int] = mapped_column(primary_key=True, autoincrement=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("jobs.id"), index=True)
    step_id: Mapped[str | None]
    at_utc: Mapped[str]
    name: Mapped[str]
    media_type: Mapped[str]
    content: Mapped[bytes] = mapped_column(LargeBinary)

    __table_args__ = NUMBERED


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
    owner_host: Mapped[str | None]
    """The machine that the pid counts on; None in a record older than this column."""
    job_id: Mapped[int | None] = mapped_column(ForeignKey("jobs.id"), index=True)
    """None for a scan by itself, as are the three below."""
    step_id: Mapped[str | None]
    phase: Mapped[str | None]
    way: Mapped[str | None]
    reading_count: Mapped[int | None]
    """Entered when the run ends, so that a list need not count millions of rows."""

    __table_args__ = NUMBERED


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
