"""Entering a whole job that comes from elsewhere."""

from dataclasses import dataclass
from typing import Any

from sqlalchemy import insert, select
from sqlalchemy.engine import Connection

from sequences.alignment.progress import Progress
from server.errors import ArchiveRefused, StoreError
from server.records.archive import ArchivedJob, ArchivedReading, ArchivedRun, JobHeader
from server.records.database import Database, Row
from server.records.jobs import KeptNote, enter_note
from server.records.notes import answer_from_plain, note_from_plain
from server.records.runs import INTERRUPTED, INTERRUPTED_TEXT
from server.records.tables import AnswerRow, EventRow, JobRow, PhotoRow, ReadingRow, RemarkRow, RunRow


@dataclass(frozen=True, slots=True)
class TakenRun:
    """A run with its readings."""

    run: ArchivedRun
    readings: list[ArchivedReading]


@dataclass(frozen=True, slots=True)
class TakenJob:
    """All of a job."""

    job: ArchivedJob
    receiver_file: str
    runs: list[TakenRun]
    photos: list[bytes]


class IntakeRecords(Database):
    """The part of the record that takes in jobs."""

    def take_in(self, taken: TakenJob) -> int:
        """Enter a job and give its number here; all of it or nothing.

        Raises:
            ArchiveRefused: it is in the record already, or contradicts itself.
            StoreError: it is not in the record.
        """
        with self._writing() as connection:
            known = connection.execute(select(JobRow.id).where(JobRow.uid == taken.job.uid)).scalar_one_or_none()
            if known is not None:
                raise ArchiveRefused(f"This job is in the record already, as job {known}.")
            job_id = _enter_header(connection, taken)
            run_ids = [self._enter_run(connection, job_id, run) for run in taken.runs]
            _enter_notes(connection, job_id, taken.job, run_ids)
            _enter_answers(connection, job_id, taken.job)
            _enter_attachments(connection, job_id, taken)
            return job_id

    def _enter_run(self, connection: Connection, job_id: int, taken: TakenRun) -> int:
        row = {
            **taken.run.model_dump(exclude={"events"}),
            "job_id": job_id,
            "owner_host": self._owner.host,
            "owner_pid": self._owner.pid,
            "owner_began": self._owner.began,
            "reading_count": len(taken.readings),
        }
        if taken.run.ending is None:  # it was on when the job was written
            row |= {"ending": INTERRUPTED, "ending_text": INTERRUPTED_TEXT, "ended_utc": taken.run.started_utc}
        run_id = int(connection.execute(insert(RunRow).values(**row).returning(RunRow.id)).scalar_one())
        _enter_all(connection, ReadingRow, [{"run_id": run_id, **each.model_dump()} for each in taken.readings])
        events = [each.model_dump() for each in taken.run.events]
        _enter_all(connection, EventRow, [{"run_id": run_id, "seq": each.pop("seq"), "body": each} for each in events])
        return run_id


def _enter_header(connection: Connection, taken: TakenJob) -> int:
    row = {**taken.job.model_dump(include=set(JobHeader.model_fields)), "receiver_file": taken.receiver_file}
    return int(connection.execute(insert(JobRow).values(**row).returning(JobRow.id)).scalar_one())


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


def _enter_attachments(connection: Connection, job_id: int, taken: TakenJob) -> None:
    remarks = [{"job_id": job_id, **each.model_dump()} for each in taken.job.remarks]
    _enter_all(connection, RemarkRow, remarks)
    photos = zip(taken.job.photos, taken.photos, strict=True)
    rows = [{"job_id": job_id, **each.model_dump(), "content": content} for each, content in photos]
    _enter_all(connection, PhotoRow, rows)


def _enter_all(connection: Connection, table: Any, rows: list[Row]) -> None:  # noqa: ANN401 - a mapped class
    if rows:
        connection.execute(insert(table), rows)
