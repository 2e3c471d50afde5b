"""Runs with their readings and events."""

from dataclasses import dataclass
from functools import singledispatchmethod
from typing import Any

from sqlalchemy import ColumnElement, Executable, RowMapping, Select, func, insert, select, update
from sqlalchemy.engine import Connection

from sequences.engine.events import Event, Guidance, LevelTaken, PartialFit, Progress, ReadingTaken, RunEnded
from server.errors import UnknownThing
from server.plain import event_to_plain, to_plain
from server.records.arrivals import ARRIVING, forget_arrival
from server.records.database import LARGEST_NUMBER, Row, rows_of
from server.records.late_writes import LateWrites
from server.records.owner import Owner
from server.records.programs import SILENT_S, ProgramRecords
from server.records.tables import EventRow, JobRow, ReadingRow, RunRow

INTERRUPTED = "interrupted"
WHILE_ON = "while this run was on; what was read until then is kept."
INTERRUPTED_TEXT = f"The service ended {WHILE_ON}"

MAIN_FIGURES = ("centre_hz", "centre_sigma_hz", "width_3db_hz")
"""Read out of the result by the database, so that a long list does not load every curve."""


@dataclass(frozen=True, slots=True)
class NewRun:
    """What is known of a run before it begins. The last four are None where it belongs to no job."""

    mode: str
    target: str
    target_name: str
    receiver: str
    settings: dict[str, Any]
    instruments: list[dict[str, Any]]
    job_id: int | None = None
    step_id: str | None = None
    phase: str | None = None
    way: str | None = None


class RunRecords(ProgramRecords):
    """The part of the record that runs are kept in."""

    def __init__(self, *arguments: Any, **named: Any) -> None:  # noqa: ANN401 - as Database takes them
        """Open it, as Database says."""
        super().__init__(*arguments, **named)
        self._late_ends = LateWrites()

    def begin_run(self, new: NewRun) -> int:
        """Enter a new run and give its number.

        Raises:
            StoreError: it is not in the record, or belongs to a job that is not there.
            JobInUse: its job has been taken over by another program.
        """
        owner = self._owner
        values = {
            **to_plain(new),
            "started_utc": self._stamp(),
            "owner_pid": owner.pid,
            "owner_began": owner.began,
            "owner_host": owner.host,
        }
        with self._writing() as connection:
            if new.job_id is not None:
                self._require_hands(connection, new.job_id)
            self._begin_to_sign(connection)
            result = connection.execute(insert(RunRow).values(**values).returning(RunRow.id))
            return int(result.scalar_one())

    def keep(self, run_id: int, seq: int, happened: Event) -> None:
        """Put an event on disk. Progress and guidance are not kept, and a partial fit replaces the one before it.

        Raises:
            StoreError: the event is not on disk.
        """
        if isinstance(happened, Progress | Guidance):
            return
        with self._writing() as connection:
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
        """Enter how a run ended, and its figures where it has any; without them the latest partial fit stands.

        Raises:
            StoreError: it is not in the record yet; it is tried again for as long as the record is open.
        """
        values: Row = {
            "ended_utc": self._stamp(),
            "ending": ended.ending.value,
            "ending_text": ended.text,
            "output_off": ended.output_off,
            "reading_count": _reading_count(),
        }
        if result is not None:
            values["result"] = to_plain(result)
        self._late_ends.write(lambda: self._enter_end(run_id, values))

    def _enter_end(self, run_id: int, values: Row) -> None:
        with self._writing() as connection:
            connection.execute(update(RunRow).where(RunRow.id == run_id).values(**values))

    def _write_late_ends(self) -> None:
        """Try for the last time to write what could not be written before."""
        self._late_ends.end()

    def runs(self) -> list[Row]:
        """Give the runs that belong to no job, newest first.

        Each has its main figures in place of its result, and the number of its `readings`.
        """
        with self._reading() as connection:
            question = run_summaries().where(RunRow.job_id.is_(None)).order_by(RunRow.id.desc())
            return rows_of(connection, question)

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
                "readings": rows_of(connection, readings),
                "events": [{"seq": row["seq"], **row["body"]} for row in rows_of(connection, events)],
            }

    def _close_orphans(self) -> None:
        """Mark as interrupted the runs that a program left open by its death, and free the jobs it had in hand."""
        runs = select(RunRow.id, RunRow.owner_host, RunRow.owner_pid, RunRow.owner_began).where(RunRow.ending.is_(None))
        jobs = select(JobRow.id, JobRow.claim_host, JobRow.claim_pid, JobRow.claim_began)
        with self._writing() as connection:
            for run_id, owner in self._left_behind(connection, runs):
                self._interrupt(connection, owner, RunRow.id == run_id)
            claimed = jobs.where(JobRow.claim_pid.is_not(None))
            arriving = claimed.where(JobRow.state == ARRIVING)
            for job_id, _ in self._left_behind(connection, arriving):
                forget_arrival(connection, job_id)
            left = [job_id for job_id, _ in self._left_behind(connection, claimed)]
            connection.execute(update(JobRow).where(JobRow.id.in_(left)).values(NO_CLAIM))
            self._forget_the_silent(connection)

    def _left_behind(self, connection: Connection, owned: Executable) -> list[tuple[int, Owner]]:
        """Give what belongs to programs that are gone, asked for as number, host, pid and beginning."""
        all_owned = [(number, Owner(*owner)) for number, *owner in connection.execute(owned)]
        return [(number, owner) for number, owner in all_owned if not self._lives(connection, owner)]

    def _interrupt(self, connection: Connection, owner: Owner, *which: ColumnElement[bool]) -> bool:
        """Mark as interrupted what a program that is gone has left open; tell whether there was any."""
        silent = f"{owner.host} gave no sign of life for {SILENT_S:g} s"
        ended = {
            "ending": INTERRUPTED,
            "ending_text": f"{silent} {WHILE_ON}" if self._is_elsewhere(owner) else INTERRUPTED_TEXT,
            "ended_utc": self._stamp(),
            "reading_count": _reading_count(),
        }
        still_open = (RunRow.ending.is_(None), *which)
        return connection.execute(update(RunRow).where(*still_open).values(**ended)).rowcount > 0


NO_CLAIM = {"claim_host": None, "claim_pid": None, "claim_began": None}


def run_summaries() -> Select[Any]:
    """Ask for runs without their results, each with its main figures and the number of its readings."""
    plain = [column for column in RunRow.__table__.columns if column.name not in {"result", "reading_count"}]
    figures = [RunRow.result[name].as_float().label(name) for name in MAIN_FIGURES]
    return select(*plain, *figures, func.coalesce(RunRow.reading_count, _reading_count()).label("readings"))


def _reading_count() -> ColumnElement[int]:
    count = select(func.count()).select_from(ReadingRow).where(ReadingRow.run_id == RunRow.id)
    return count.correlate(RunRow).scalar_subquery()


def _find_run(connection: Connection, run_id: int) -> RowMapping | None:
    if not 0 < run_id <= LARGEST_NUMBER:
        return None
    return connection.execute(select(RunRow.__table__).where(RunRow.id == run_id)).mappings().one_or_none()
