"""Finding jobs, and a receiver's figures over the years."""

from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from typing import Any

from sqlalchemy import ColumnElement, and_, func, or_, select

from sequences.alignment.progress import Ending
from sequences.numerics.verdicts.verdict import Verdict
from server.errors import OrderRefused
from server.records.arrivals import ARRIVING
from server.records.database import Database, Row, rows_of, stamp
from server.records.jobs import PRIVATE
from server.records.tables import FigureRow, JobRow, RemarkRow, StepRow

ENDINGS = tuple(ending.name.lower() for ending in Ending)
VERDICTS = tuple(verdict.value for verdict in Verdict)
SEARCHED = ("receiver_name", "owner", "make", "serial", "operator", "remark", "calibration_note")
MOST_JOBS_IN_HISTORY = 30
"""Some hundred figures a job: as many as a picture against time can show apart, and soon read."""

LEFT_OUT = PRIVATE | {"receiver_file", "instruments"}


@dataclass(frozen=True, slots=True)
class History:
    """Figures over the years, oldest first.

    Of many `jobs` that fit, `figures` are those of `jobs_shown` only, spread evenly from the first to the last.
    """

    figures: list[Row]
    jobs: int
    jobs_shown: int


class SearchRecords(Database):
    """The part of the record that answers questions over many jobs."""

    def jobs(
        self,
        *,
        receiver_id: str | None = None,
        text: str | None = None,
        step: str | None = None,
        verdict: str | None = None,
        since_utc: str | None = None,
        until_utc: str | None = None,
    ) -> list[Row]:
        """Give the jobs that fit, newest first, each with `counts` of its ended steps by ending and `steps_done`.

        Args:
            receiver_id: of this receiver.
            text: each word of it found in what is said of the job or in a remark, in small or capital letters.
            step: in which this step was begun or left.
            verdict: that reached this verdict (as found or later), or has a step that ended so: good, off, suspect,
                blocked, unjudged, unmeasured. With `step`, that step.
            since_utc: begun then or later; a day, or a day and time in ISO 8601.
            until_utc: begun then or earlier; a day counts to its end.

        Raises:
            OrderRefused: a time or a verdict is none.
        """
        wanted = [
            JobRow.state != ARRIVING,
            None if receiver_id is None else JobRow.receiver_id == receiver_id,
            and_(*(_says(word) for word in text.split())) if text and text.strip() else None,
            _has_step(step) if step is not None and verdict is None else None,
            None if verdict is None else _reached(verdict, step),
            *_begun(since_utc, until_utc),
        ]
        which = [each for each in wanted if each is not None]
        columns = [column for column in JobRow.__table__.columns if column.name not in LEFT_OUT]
        question = select(*columns).where(*which).order_by(JobRow.id.desc())
        ends = select(StepRow.job_id, StepRow.ending, func.count()).join(JobRow, JobRow.id == StepRow.job_id)
        with self._reading() as connection:
            rows = rows_of(connection, question)
            counts: dict[int, dict[str, int]] = {row["id"]: dict.fromkeys(ENDINGS, 0) for row in rows}
            for job_id, ending, count in connection.execute(
                ends.where(*which).group_by(StepRow.job_id, StepRow.ending)
            ):
                counts[job_id][ending] = count
        return [{**row, "counts": counts[row["id"]], "steps_done": sum(counts[row["id"]].values())} for row in rows]

    def history(
        self,
        receiver_id: str,
        serial: str | None = None,
        *,
        since_utc: str | None = None,
        until_utc: str | None = None,
    ) -> History:
        """Give the figures measured on this receiver, or on the one with this serial, over the years.

        Args:
            receiver_id: of this receiver.
            serial: of the one with this serial; None for every set.
            since_utc: in jobs begun then or later; a day, or a day and time in ISO 8601.
            until_utc: in jobs begun then or earlier; a day counts to its end.

        Raises:
            OrderRefused: a time is none.
        """
        wanted = [
            JobRow.receiver_id == receiver_id,
            None if serial is None else JobRow.serial == serial,
            *_begun(since_utc, until_utc),
        ]
        which = [each for each in wanted if each is not None]
        measured = select(FigureRow.job_id).where(FigureRow.job_id == JobRow.id).exists()
        columns = [column for column in FigureRow.__table__.columns if column.name not in {"note_seq", "place"}]
        order = (FigureRow.at_utc, FigureRow.job_id, FigureRow.note_seq, FigureRow.place)
        with self._reading() as connection:
            jobs = connection.execute(
                select(JobRow.id).where(*which, measured).order_by(JobRow.started_utc, JobRow.id)
            ).scalars()
            fitting = list(jobs)
            shown = _spread(fitting, MOST_JOBS_IN_HISTORY)
            figures = rows_of(connection, select(*columns).where(FigureRow.job_id.in_(shown)).order_by(*order))
        return History(figures, jobs=len(fitting), jobs_shown=len(shown))


def _spread(jobs: list[int], most: int) -> list[int]:
    """Thin jobs evenly, from the first to the last of them."""
    if len(jobs) <= most:
        return jobs
    return [jobs[round(place * (len(jobs) - 1) / (most - 1))] for place in range(most)]


def _begun(since_utc: str | None, until_utc: str | None) -> tuple[ColumnElement[bool] | None, ...]:
    return (
        None if since_utc is None else JobRow.started_utc >= _moment(since_utc, at_end=False),
        None if until_utc is None else JobRow.started_utc <= _moment(until_utc, at_end=True),
    )


def _says(word: str) -> ColumnElement[bool]:
    in_remarks = select(RemarkRow.job_id).where(RemarkRow.text.icontains(word, autoescape=True))
    columns: list[Any] = [getattr(JobRow, name) for name in SEARCHED]
    return or_(*(column.icontains(word, autoescape=True) for column in columns), JobRow.id.in_(in_remarks))


def _has_step(step: str) -> ColumnElement[bool]:
    ended = select(StepRow.job_id).where(StepRow.step_id == step)
    measured = select(FigureRow.job_id).where(FigureRow.step_id == step)
    return or_(JobRow.id.in_(ended), JobRow.id.in_(measured))


def _reached(verdict: str, step: str | None) -> ColumnElement[bool]:
    if verdict in ENDINGS:
        of_step = [] if step is None else [StepRow.step_id == step]
        return JobRow.id.in_(select(StepRow.job_id).where(StepRow.ending == verdict, *of_step))
    if verdict not in VERDICTS:
        raise OrderRefused(f"'{verdict}' is no verdict; ask for one of {', '.join((*VERDICTS, *ENDINGS))}.")
    of_figure = [] if step is None else [FigureRow.step_id == step]
    return JobRow.id.in_(select(FigureRow.job_id).where(FigureRow.verdict == verdict, *of_figure))


def _moment(text: str, *, at_end: bool) -> str:
    """Write a day or time as the record does."""
    try:
        moment = datetime.fromisoformat(text)
    except ValueError as error:
        raise OrderRefused(f"'{text}' is no day or time; write 2026-11-25 or 2026-11-25T09:30Z.") from error
    whole_day = "T" not in text and " " not in text
    if whole_day and at_end:
        moment = datetime.combine(moment, time()) + timedelta(days=1, milliseconds=-1)
    zoned = moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment
    return stamp(zoned)
