"""Jobs that are on their way in: entered piece by piece, and seen by nobody before they are whole."""

from typing import Final

from sqlalchemy import delete, select
from sqlalchemy.engine import Connection

from server.records.tables import EventRow, JobRow, PhotoRow, ReadingRow, RunRow

ARRIVING: Final = "arriving"
"""The state of such a job, in the hands of the program that takes it in."""


def forget_arrival(connection: Connection, job_id: int) -> None:
    """Take out what has come of a job that will not be whole."""
    runs = select(RunRow.id).where(RunRow.job_id == job_id)
    for table in (ReadingRow, EventRow):
        connection.execute(delete(table).where(table.run_id.in_(runs)))
    connection.execute(delete(RunRow).where(RunRow.job_id == job_id))
    connection.execute(delete(PhotoRow).where(PhotoRow.job_id == job_id))
    connection.execute(delete(JobRow).where(JobRow.id == job_id, JobRow.state == ARRIVING))
