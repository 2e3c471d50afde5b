"""Entering a whole job that comes from elsewhere, piece by piece, so that nobody else has to wait for it."""

import time
from collections.abc import Iterable
from dataclasses import dataclass
from operator import itemgetter
from typing import Any

from sqlalchemy import insert, select, update
from sqlalchemy.engine import Connection

from sequences.alignment.progress import Progress
from server.errors import ArchiveRefused, StoreError
from server.records.archive import READING_COLUMNS, ArchivedJob, ArchivedReading, ArchivedRun, JobHeader
from server.records.arrivals import ARRIVING, forget_arrival
from server.records.database import Database, Row
from server.records.jobs import KeptNote, enter_note
from server.records.notes import answer_from_plain, note_from_plain
from server.records.runs import INTERRUPTED, INTERRUPTED_TEXT
from server.records.tables import AnswerRow, EventRow, JobRow, PhotoRow, ReadingRow, RemarkRow, RunRow

PAUSE_S = 0.01
"""Between two pieces: longer than SQLite lets a writer sleep that waits for its turn for the first time."""


@dataclass(frozen=True, slots=True)
class TakenRun:
    """A run with its readings, which are read a piece at a time as they are asked for."""

    run: ArchivedRun
    readings: Iterable[list[ArchivedReading]]


@dataclass(frozen=True, slots=True)
class TakenJob:
    """All of a job; runs and photos are read as they are asked for."""

    job: ArchivedJob
    receiver_file: str
    runs: Iterable[TakenRun]
    photos: Iterable[bytes]


class IntakeRecords(Database):
    """The part of the record that takes in jobs."""

    def take_in(self, taken: TakenJob) -> int:
        """Enter a job and give its number here; all of it or nothing. It is seen by nobody before it is whole.

        Raises:
            ArchiveRefused: it is in the record already, or contradicts itself.
            StoreError: it is not in the record.
        """
        job_id = self._announce(taken)
        try:
            run_ids = [self._enter_run(job_id, run) for run in taken.runs]
            self._enter_photos(job_id, taken)
            with self._writing() as connection:
                _enter_notes(connection, job_id, taken.job, run_ids)
                _enter_answers(connection, job_id, taken.job)
                remarks = [{"job_id": job_id, **each.model_dump()} for each in taken.job.remarks]
                _enter_all(connection, RemarkRow, remarks)
                arrived = {"state": taken.job.state, "claim_host": None, "claim_pid": None, "claim_began": None}
                connection.execute(update(JobRow).where(JobRow.id == job_id).values(arrived))
        except BaseException:
            with self._writing() as connection:
                forget_arrival(connection, job_id)
            raise
        return job_id

    def _announce(self, taken: TakenJob) -> int:
        """Enter the header of a job that is on its way in, in this program's hands."""
        owner = self._owner
        row = {
            **taken.job.model_dump(include=set(JobHeader.model_fields)),
            "receiver_file": taken.receiver_file,
            "state": ARRIVING,
            "claim_host": owner.host,
            "claim_pid": owner.pid,
            "claim_began": owner.began,
        }
        with self._writing() as connection:
            known = select(JobRow.id, JobRow.state).where(JobRow.uid == taken.job.uid)
            there = connection.execute(known).one_or_none()
            if there is not None:
                on_its_way = there.state == ARRIVING
                raise ArchiveRefused(
                    "This job is being taken in already."
                    if on_its_way
                    else f"This job is in the record already, as job {there.id}."
                )
            return int(connection.execute(insert(JobRow).values(**row).returning(JobRow.id)).scalar_one())

    def _enter_run(self, job_id: int, taken: TakenRun) -> int:
        row = {
            **taken.run.model_dump(exclude={"events"}),
            "job_id": job_id,
            "owner_host": self._owner.host,
            "owner_pid": self._owner.pid,
            "owner_began": self._owner.began,
            "reading_count": 0,
        }
        if taken.run.ending is None:  # it was on when the job was written
            row |= {"ending": INTERRUPTED, "ending_text": INTERRUPTED_TEXT, "ended_utc": taken.run.started_utc}
        events = [each.model_dump() for each in taken.run.events]
        with self._writing() as connection:
            run_id = int(connection.execute(insert(RunRow).values(**row).returning(RunRow.id)).scalar_one())
            rows = [{"run_id": run_id, "seq": each.pop("seq"), "body": each} for each in events]
            _enter_all(connection, EventRow, rows)
        count = self._enter_readings(run_id, taken.readings)
        with self._writing() as connection:
            connection.execute(update(RunRow).where(RunRow.id == run_id).values(reading_count=count))
        return run_id

    def _enter_readings(self, run_id: int, readings: Iterable[list[ArchivedReading]]) -> int:
        count = 0
        for piece in readings:
            with self._writing() as connection:
                _enter_many(connection, run_id, piece)
            count += len(piece)
            time.sleep(PAUSE_S)
        return count

    def _enter_photos(self, job_id: int, taken: TakenJob) -> None:
        for each, content in zip(taken.job.photos, taken.photos, strict=True):
            with self._writing() as connection:
                _enter_all(connection, PhotoRow, [{"job_id": job_id, **each.model_dump(), "content": content}])


def _enter_notes(connection: Connection, job_id: int, job: ArchivedJob, run_ids: list[int]) -> None:
    progress, rows = Progress(job.receiver_id), list[Row]()
    for number, each in enumerate(job.notes, 1):
        if each.run is not None and not 1 <= each.run <= len(run_ids):
            raise ArchiveRefused(f"Note {number} is of run {each.run}, which the file does not have.")
        run_id = None if each.run is None else run_ids[each.run - 1]
        try:
            kept = KeptNote(note_from_plain(each.kind, each.body), each.at_utc, run_id)
            progress = enter_note(connection, job_id, kept, rows, progress)
        except StoreError as error:
            raise ArchiveRefused(f"Note {number} of the job cannot be taken in. {error}") from error


def _enter_answers(connection: Connection, job_id: int, job: ArchivedJob) -> None:
    for number, each in enumerate(job.answers, 1):
        try:
            answer_from_plain(each.asked, each.answer)
        except StoreError as error:
            raise ArchiveRefused(f"Answer {number} of the job cannot be taken in. {error}") from error
    answers = [{"job_id": job_id, "seq": seq, **each.model_dump()} for seq, each in enumerate(job.answers)]
    _enter_all(connection, AnswerRow, answers)


def _enter_many(connection: Connection, run_id: int, piece: list[ArchivedReading]) -> None:
    """Enter readings by the database's own driver: what SQLAlchemy does to each row takes longer than all the rest."""
    columns = ("run_id", *READING_COLUMNS)
    statement = insert(ReadingRow).compile(dialect=connection.dialect, column_keys=columns)
    rows: list[Any] = [(run_id, *each) for each in piece]
    if statement.positiontup is None:
        rows = [dict(zip(columns, row, strict=True)) for row in rows]
    elif tuple(statement.positiontup) != columns:
        in_order = itemgetter(*map(columns.index, statement.positiontup))
        rows = [in_order(row) for row in rows]
    connection.exec_driver_sql(str(statement), rows)


def _enter_all(connection: Connection, table: Any, rows: list[Row]) -> None:  # noqa: ANN401 - a mapped class
    if rows:
        connection.execute(insert(table), rows)
