"""What a record of a thousand jobs and five million readings answers in: job list, history, report.

One alignment is done on a practice bench, and its job copied, under other serials and dates, until the record is full:
two hundred sets, each on the bench every few years.
"""

import io
import os
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import partial
from math import ceil
from statistics import median

from sqlalchemy import TableClause, func, select, text

from server.records.job_export import export_job
from server.records.job_import import import_job
from server.records.store import Store
from server.records.tables import JobRow, ReadingRow, RunRow, Table
from server.report.html import html_report
from server.report.report import make_report
from tests.bench.command_line import PROGRAM
from tests.postgresql import Cluster, find_programs

JOBS = 1000
READINGS = 5_000_000
SETS = 200
ROUNDS = 9
AIM_S = 0.3
SEED = "6"


def aligned_job() -> bytes:
    """Align a practice receiver, and give its job as one file."""
    with tempfile.TemporaryDirectory() as folder:
        place = f"{folder}/practice.sqlite"
        command = [PROGRAM, "align", "skerry-7", "--practice", "--unattended", "--speed", "1000", "--seed", SEED]
        subprocess.run([*command, "--store", place], check=True, capture_output=True)
        store, file = Store(place), io.BytesIO()
        export_job(store, 1, file)
        store.close()
        return file.getvalue()


@contextmanager
def places() -> Iterator[dict[str, str]]:
    """Give where records may be made, by the name of the database."""
    programs = find_programs()
    with tempfile.TemporaryDirectory() as folder:
        sqlite = {"SQLite": f"{folder}/record.sqlite"}
        if programs is None:
            yield sqlite
            return
        with Cluster(programs) as cluster, cluster.database() as url:
            yield {**sqlite, "PostgreSQL": url}


def fill(store: Store, job: bytes) -> None:
    """Enter a job, and copy it until the record is full; each copy lies together, as a job that was worked on does."""
    import_job(store, io.BytesIO(job))
    with store._writing() as connection:  # noqa: SLF001 - no program makes copies
        mine = connection.execute(select(func.count()).select_from(ReadingRow)).scalar_one()
        runs = connection.execute(select(func.count()).select_from(RunRow)).scalar_one()
        tables = Table.metadata.sorted_tables
        for table in tables:
            connection.execute(text(f'CREATE TEMPORARY TABLE first_{table.name} AS SELECT * FROM "{table.name}"'))  # noqa: S608 - names of our own
        statements = [text(_copy_statement(table, runs)) for table in tables]
        for k in range(1, max(JOBS, ceil(READINGS / mine))):
            for statement in statements:
                connection.execute(statement, {"k": k, "year": str(2026 - k // SETS), "serial": str(k % SETS)})
    if store.place.file is None:  # what the server does by itself within a minute
        with store._engine.connect().execution_options(isolation_level="AUTOCOMMIT") as connection:  # noqa: SLF001 - the same
            connection.execute(text("VACUUM ANALYZE"))


def _copy_statement(table: TableClause, runs: int) -> str:
    """Give the statement that makes copy `k` of what the first job has in a table."""
    columns = [column.name for column in table.columns]
    named = ", ".join(f'"{name}"' for name in columns)
    values = ", ".join(_copied(table.name, name, runs) for name in columns)
    return f'INSERT INTO "{table.name}" ({named}) SELECT {values} FROM first_{table.name}'  # noqa: S608 - the same


def _copied(table: str, column: str, runs: int) -> str:
    """Give the expression for a column of a copy."""
    if column == "uid":
        return "uid || '-' || CAST(:k AS VARCHAR(9))"
    if column == "serial":
        return "CAST(:serial AS VARCHAR(9))"
    if column in {"started_utc", "ended_utc", "at_utc"}:
        return f"CAST(:year AS VARCHAR(9)) || substr({column}, 5)"
    if column == "run_id" or (table, column) == ("runs", "id"):
        return f'"{column}" + {runs} * CAST(:k AS INTEGER)'
    numbered = column == "job_id" or (table, column) == ("jobs", "id")
    return f'"{column}" + CAST(:k AS INTEGER)' if numbered else f'"{column}"'


def medians_s(ask: Callable[[], object]) -> tuple[float, float]:
    """Time a question several times; give how long it took, and how much of that this program itself worked."""
    took_s, worked_s = zip(*(_timed_and_worked_s(ask) for _ in range(ROUNDS)), strict=True)
    return median(took_s), median(worked_s)


def _timed_and_worked_s(ask: Callable[[], object]) -> tuple[float, float]:
    began_s = time.process_time()
    return _timed_s(ask), time.process_time() - began_s


def _timed_s(ask: Callable[[], object]) -> float:
    began_s = time.perf_counter()
    ask()
    return time.perf_counter() - began_s


def main() -> None:
    """Print the median time of each question on each database."""
    job = aligned_job()
    with places() as where:
        for database, place in where.items():
            store = Store(place)
            filling_s = _timed_s(partial(fill, store, job))
            _tell(database, store, filling_s)
            store.close()
        if "PostgreSQL" not in where:
            print("no PostgreSQL server is installed here")  # noqa: T201 - a benchmark prints


def _tell(database: str, store: Store, filling_s: float) -> None:
    with store._reading() as connection:  # noqa: SLF001 - counts only
        readings = connection.execute(select(func.count()).select_from(ReadingRow)).scalar_one()
        jobs = connection.execute(select(func.count()).select_from(JobRow)).scalar_one()
    busy = f"{os.getloadavg()[0]:.0f} programs at work on {os.cpu_count()} processors"
    print(f"{database}: {jobs} jobs, {readings} readings, filled in {filling_s:.0f} s; aim under {AIM_S} s; {busy}")  # noqa: T201 - a benchmark prints
    now, middle = datetime(2026, 11, 25, tzinfo=UTC), jobs // 2
    questions: dict[str, Callable[[], object]] = {
        "open the record": lambda: Store(store.place.url.render_as_string(hide_password=False)).close(),
        "job list": store.jobs,
        "jobs with a suspected part in a year": lambda: store.jobs(
            verdict="suspect a part", since_utc="2024-01-01", until_utc="2024-12-31"
        ),
        "jobs by step": lambda: store.jobs(step="dial-second"),
        "jobs by words": lambda: store.jobs(text="skerry"),
        "history of one set": lambda: store.history("skerry-7", "7"),
        "history of all sets": lambda: store.history("skerry-7"),
        "one job": lambda: store.job(middle),
        "report, the record's part": lambda: [store.run(run["id"]) for run in store.job(middle)["runs"]],
        "report as HTML": lambda: html_report(make_report(store, middle, now)),
        "scan list": store.runs,
    }
    for name, ask in questions.items():
        took_s, worked_s = medians_s(ask)
        print(f"  {name:<38} {took_s:.3f} s, of its own work {worked_s:.3f} s")  # noqa: T201 - a benchmark prints


if __name__ == "__main__":
    main()
