"""The record as the rest of the server uses it."""

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from server.errors import StoreError
from server.records.attachments import AttachmentRecords
from server.records.database import new_uid, utc_now
from server.records.intake import IntakeRecords
from server.records.jobs import JobRecords
from server.records.outputs import OutputRecords
from server.records.schema import bring_up_to_date
from server.records.search import SearchRecords


class Store(JobRecords, SearchRecords, AttachmentRecords, IntakeRecords, OutputRecords):
    """One record, open. Safe to use from several threads, and by several programs at once."""

    def __init__(
        self,
        where: str | Path,
        *,
        now: Callable[[], datetime] = utc_now,
        uid: Callable[[], str] = new_uid,
    ) -> None:
        """Open or make the record at `where`, a path or a URL, and close what dead programs left open in it.

        Raises:
            StoreError: it cannot be opened, or was written by a newer program.
        """
        super().__init__(where, now=now, uid=uid)
        self._claims = False
        try:
            with self._writing("opened") as connection:
                bring_up_to_date(connection, self.place.shown)
            self._close_orphans()
            if self._file is not None:
                self._file.taken()
        except StoreError:
            super().close()
            raise

    def claim(self, job_id: int) -> str | None:
        """Take a job in hand, as JobRecords.claim says."""
        told = super().claim(job_id)
        self._claims = True
        return told

    def close(self) -> None:
        """Release the jobs in hand, and let go of the record."""
        if self._claims:
            self._release()
        self._write_late_ends()
        super().close()
