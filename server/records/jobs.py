"""Jobs: one receiver on the bench, from the first measurement to the last, over as many days as it takes."""

from dataclasses import asdict, dataclass, field
from functools import reduce
from typing import Any

from sqlalchemy import delete, func, insert, select, update
from sqlalchemy.engine import Connection

from sequences.alignment.progress import Choice, Note, Progress, StepDecided, StepMeasured, noted
from sequences.engine.events import Asked
from server.errors import JobInUse, OrderRefused, StoreError, UnknownThing
from server.plain import to_plain
from server.records.arrivals import ARRIVING
from server.records.database import LARGEST_NUMBER, Row, rows_of
from server.records.notes import Answered, answer_from_plain, note_from_plain, note_to_plain
from server.records.owner import Owner
from server.records.programs import SILENT_S, owner_of
from server.records.runs import NO_CLAIM, RunRecords, run_summaries
from server.records.tables import AnswerRow, FigureRow, JobRow, NoteRow, PhotoRow, RemarkRow, RunRow, StepRow

OPEN, PAUSED, DONE = "open", "paused", "done"
CHANGEABLE = (
    "operator",
    "room_temperature_c",
    "calibration_note",
    "owner",
    "make",
    "serial",
    "remark",
    "instruments",
    "state",
)
PRIVATE = frozenset(NO_CLAIM)
"""Columns that are nobody's business outside."""


@dataclass(frozen=True, slots=True)
class NewJob:
    """What is known of a job when it begins. `receiver_file` is the TOML text that it goes on with for ever."""

    receiver_id: str
    receiver_name: str
    receiver_file: str
    mode: str
    seed: int | None = None
    owner: str = ""
    make: str = ""
    serial: str = ""
    operator: str = ""
    room_temperature_c: float | None = None
    calibration_note: str = ""
    instruments: list[dict[str, Any]] = field(default_factory=list)
    remark: str = ""


class JobRecords(RunRecords):
    """The part of the record that jobs are kept in."""

    def begin_job(self, new: NewJob) -> int:
        """Enter a new job and give its number.

        Raises:
            StoreError: it is not in the record.
        """
        values = {**asdict(new), "uid": self._uid(), "started_utc": self._stamp(), "state": OPEN}
        with self._writing() as connection:
            return int(connection.execute(insert(JobRow).values(**values).returning(JobRow.id)).scalar_one())

    def change_job(self, job_id: int, **changes: Any) -> None:  # noqa: ANN401 - the columns of a job
        """Change what is said of a job: any of CHANGEABLE.

        Raises:
            UnknownThing: there is no such job.
            OrderRefused: something that cannot be changed, or a state that is none.
        """
        for name in changes:
            if name not in CHANGEABLE:
                raise OrderRefused(f"'{name}' of a job cannot be changed; {', '.join(CHANGEABLE)} can.")
        state = changes.get("state", OPEN)
        if state not in {OPEN, PAUSED, DONE}:
            raise OrderRefused(f"A job is {OPEN}, {PAUSED} or {DONE}, not '{state}'.")
        if "state" in changes:
            changes = {**changes, "ended_utc": self._stamp() if state == DONE else None}
        with self._writing() as connection:
            find_job(connection, job_id)
            if changes:
                connection.execute(update(JobRow).where(JobRow.id == job_id).values(**changes))

    def job_header(self, job_id: int) -> Row:
        """Give what is said of a job as a whole.

        Raises:
            UnknownThing: there is no such job.
        """
        with self._reading() as connection:
            return find_job(connection, job_id)

    def job(self, job_id: int) -> Row:
        """Give all of a job but the readings of its runs and the bytes of its photos.

        The header fields, `notes` and `answers` in order, each with `at_utc`; `runs`, `remarks` and `photos`.

        Raises:
            UnknownThing: there is no such job.
        """
        with self._reading() as connection:
            runs = run_summaries().where(RunRow.job_id == job_id).order_by(RunRow.id)
            remarks = select(RemarkRow.__table__).where(RemarkRow.job_id == job_id).order_by(RemarkRow.id)
            columns = [column for column in PhotoRow.__table__.columns if column.name != "content"]
            photos = select(*columns).where(PhotoRow.job_id == job_id).order_by(PhotoRow.id)
            return {
                **find_job(connection, job_id),
                "notes": _note_rows(connection, job_id),
                "answers": _answer_rows(connection, job_id),
                "runs": rows_of(connection, runs),
                "remarks": rows_of(connection, remarks),
                "photos": rows_of(connection, photos),
            }

    def note(self, job_id: int, note: Note, *, run_id: int | None = None) -> None:
        """Keep a note of where the alignment stands; `run_id` is the run that a measurement came from.

        Raises:
            UnknownThing: there is no such job.
            StoreError: the note is not in the record, or does not follow those before it.
            JobInUse: another program has the job in hand.
        """
        with self._writing() as connection:
            job = find_job(connection, job_id, to_change=True)
            self._require_hands(connection, job_id)
            rows = _note_rows(connection, job_id)
            enter_note(connection, job_id, KeptNote(note, self._stamp(), run_id), rows, _progress(job, rows))

    def notes(self, job_id: int) -> list[Note]:
        """Give the notes of a job, in order.

        Raises:
            UnknownThing: there is no such job.
        """
        with self._reading() as connection:
            find_job(connection, job_id)
            return [note_from_plain(row["kind"], row["body"]) for row in _note_rows(connection, job_id)]

    def progress(self, job_id: int) -> Progress:
        """Say where the alignment stands.

        Raises:
            UnknownThing: there is no such job.
        """
        with self._reading() as connection:
            return _progress(find_job(connection, job_id), _note_rows(connection, job_id))

    def answered(self, job_id: int, asked: Asked, answer: str) -> None:
        """Keep an answer with its question.

        Raises:
            UnknownThing: there is no such job.
            StoreError: it is not in the record.
            JobInUse: another program has the job in hand.
        """
        with self._writing() as connection:
            find_job(connection, job_id, to_change=True)
            self._require_hands(connection, job_id)
            seq = select(func.count()).select_from(AnswerRow).where(AnswerRow.job_id == job_id)
            entry = {
                "job_id": job_id,
                "seq": connection.execute(seq).scalar_one(),
                "at_utc": self._stamp(),
                "asked": to_plain(asked),
                "answer": answer,
            }
            connection.execute(insert(AnswerRow), entry)

    def answers(self, job_id: int) -> list[Answered]:
        """Give the answers of a job, in order.

        Raises:
            UnknownThing: there is no such job.
        """
        with self._reading() as connection:
            find_job(connection, job_id)
            return [answer_from_plain(row["asked"], row["answer"]) for row in _answer_rows(connection, job_id)]

    def claim(self, job_id: int) -> str | None:
        """Take a job in hand for this program, until it is released, the record is closed, or the program dies.

        Returns:
            Where a program that is gone had it in hand, the sentence that says so; a run it had on is interrupted.

        Raises:
            UnknownThing: there is no such job.
            JobInUse: another program has it.
        """
        with self._writing() as connection:
            find_job(connection, job_id, to_change=True)
            claim = select(JobRow.claim_host, JobRow.claim_pid, JobRow.claim_began).where(JobRow.id == job_id)
            before = owner_of(connection.execute(claim).one())
            told = None if before in {None, self._owner} else self._take_over(connection, job_id, before)
            self._begin_to_sign(connection)
            mine = {
                "claim_host": self._owner.host,
                "claim_pid": self._owner.pid,
                "claim_began": self._owner.began,
            }
            connection.execute(update(JobRow).where(JobRow.id == job_id).values(**mine))
            return told

    def _take_over(self, connection: Connection, job_id: int, before: Owner) -> str:
        elsewhere = self._is_elsewhere(before)
        if self._lives(connection, before):
            free = f"; it may be taken over once nothing was heard of that one for {SILENT_S:g} s" if elsewhere else ""
            raise JobInUse(
                f"Job {job_id} is in the hands of another program ({before.said}); "
                f"go on there, or end that one first{free}."
            )
        its_own = (RunRow.owner_host == before.host, RunRow.owner_pid == before.pid, RunRow.owner_began == before.began)
        had_run = self._interrupt(connection, before, RunRow.job_id == job_id, *its_own)
        gone = f"has given no sign of life for {SILENT_S:g} s" if elsewhere else "is gone"
        run = "; the run it had on is marked as interrupted, with all it had read" if had_run else ""
        return f"Job {job_id} was in the hands of {before.said}, which {gone}, and is in this program's now{run}."

    def release(self, job_id: int) -> None:
        """Let go of a job."""
        self._release(JobRow.id == job_id)

    def free(self, job_id: int) -> None:
        """Take a job from whoever has it in hand: for one whose machine will never start again.

        Raises:
            UnknownThing: there is no such job.
        """
        with self._writing() as connection:
            find_job(connection, job_id)
            connection.execute(update(JobRow).where(JobRow.id == job_id).values(NO_CLAIM))

    def _release(self, *which: Any) -> None:  # noqa: ANN401 - conditions
        mine = (JobRow.claim_pid == self._owner.pid) & (JobRow.claim_host == self._owner.host)
        with self._writing() as connection:
            connection.execute(update(JobRow).where(mine, *which).values(NO_CLAIM))


def find_job(connection: Connection, job_id: int, *, to_change: bool = False) -> Row:
    """Give the header of a job; with `to_change` nobody else changes the job until the transaction ends.

    Raises:
        UnknownThing: there is no such job.
    """
    columns = [column for column in JobRow.__table__.columns if column.name not in PRIVATE]
    question = select(*columns).where(JobRow.id == job_id, JobRow.state != ARRIVING)
    if to_change:
        question = question.with_for_update()
    row = connection.execute(question).mappings().one_or_none() if 0 < job_id <= LARGEST_NUMBER else None
    if row is None:
        raise UnknownThing(f"There is no job number {job_id}; `peakwright job list` lists those there are.")
    return dict(row)


@dataclass(frozen=True, slots=True)
class KeptNote:
    """A note, when it was made, and the run that it came from."""

    note: Note
    at_utc: str
    run_id: int | None


def enter_note(connection: Connection, job_id: int, kept: KeptNote, before: list[Row], progress: Progress) -> Progress:
    """Enter a note and what is worked out from it.

    Args:
        connection: a transaction that nobody else changes this job in.
        job_id: the job.
        kept: the note.
        before: the rows of the notes before it; its own is added.
        progress: where those led.

    Returns:
        Where the note leads.

    Raises:
        StoreError: it does not follow those before it.
    """
    note = kept.note
    after = _follow(progress, note)
    row = {
        "seq": len(before),
        "at_utc": kept.at_utc,
        "kind": type(note).__name__,
        "body": note_to_plain(note),
        "run_id": kept.run_id,
    }
    connection.execute(insert(NoteRow), {"job_id": job_id, **row})
    if isinstance(note, StepMeasured):
        _keep_figures(connection, job_id, row, note)
    elif isinstance(note, StepDecided) and note.choice is Choice.AGAIN:
        _drop_figures(connection, job_id, before, after)
    if after.current is None:
        _keep_step(connection, job_id, after)
    before.append(row)
    return after


def _note_rows(connection: Connection, job_id: int) -> list[Row]:
    columns = (NoteRow.seq, NoteRow.at_utc, NoteRow.kind, NoteRow.body, NoteRow.run_id)
    question = select(*columns).where(NoteRow.job_id == job_id).order_by(NoteRow.seq)
    return rows_of(connection, question)


def _answer_rows(connection: Connection, job_id: int) -> list[Row]:
    columns = (AnswerRow.seq, AnswerRow.at_utc, AnswerRow.asked, AnswerRow.answer)
    question = select(*columns).where(AnswerRow.job_id == job_id).order_by(AnswerRow.seq)
    return rows_of(connection, question)


def _progress(job: Row, rows: list[Row]) -> Progress:
    notes = (note_from_plain(row["kind"], row["body"]) for row in rows)
    return reduce(_follow, notes, Progress(job["receiver_id"]))


def _follow(progress: Progress, note: Note) -> Progress:
    try:
        return noted(progress, note)
    except ValueError as error:
        raise StoreError(str(error)) from error


def _keep_figures(connection: Connection, job_id: int, kept: Row, note: StepMeasured) -> None:
    outcome = note.outcome
    rows = [
        {
            "job_id": job_id,
            "note_seq": kept["seq"],
            "place": place,
            "at_utc": kept["at_utc"],
            "step_id": outcome.step_id,
            "phase": (finding.when or outcome.phase).value,
            "name": finding.name,
            "where": finding.where,
            "unit": finding.unit,
            "value": None if finding.figure is None else to_plain(finding.figure.value),
            "sigma": None if finding.figure is None else to_plain(finding.figure.sigma),
            "verdict": None if finding.judged is None else finding.judged.verdict.value,
        }
        for place, finding in enumerate(outcome.findings)
    ]
    if rows:
        connection.execute(insert(FigureRow), rows)


def _drop_figures(connection: Connection, job_id: int, rows: list[Row], progress: Progress) -> None:
    """Where a step is measured afresh before anything was turned, what was measured before no longer counts."""
    if progress.current is None or progress.current.measured:
        return
    began = max(row["seq"] for row in rows if row["kind"] == "StepBegun")
    connection.execute(delete(FigureRow).where(FigureRow.job_id == job_id, FigureRow.note_seq > began))


def _keep_step(connection: Connection, job_id: int, progress: Progress) -> None:
    record = progress.ended[-1]
    judged = record.judged
    row = {
        "job_id": job_id,
        "step_id": record.step_id,
        "ending": record.ending.name.lower(),
        "verdict": None if judged is None or judged.verdict is None else judged.verdict.value,
        "adjusted": record.adjusted,
    }
    connection.execute(delete(StepRow).where(StepRow.job_id == job_id, StepRow.step_id == record.step_id))
    connection.execute(insert(StepRow), row)
