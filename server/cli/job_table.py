"""Jobs as a table on a terminal."""

from rich import box
from rich.markup import escape
from rich.table import Table

from server.records.database import Row


def jobs_table(jobs: list[Row]) -> Table:
    """Give one line a job."""
    table = Table(box=box.SIMPLE_HEAD)
    for column in ("Job", "Begun (UTC)", "Receiver", "Serial", "Owner", "State", "Steps"):
        table.add_column(column, overflow="fold")
    for job in jobs:
        shown = (job["receiver_name"], job["serial"], job["owner"], job["state"], _steps(job))
        table.add_row(str(job["id"]), f"{job['started_utc'][:16]}".replace("T", " "), *(escape(each) for each in shown))
    return table


def _steps(job: Row) -> str:
    """Say how the ended steps came out, leaving out what did not occur."""
    counts = [f"{count} {ending}" for ending, count in job["counts"].items() if count]
    return ", ".join(counts) or "none yet"
