"""Which programs still live: on this machine by their processes, on others by the signs of life they write.

In a record that several machines share, a program that has a job in hand or a run on writes a sign of life every few
seconds, timed by the database's own clock, so that no machine's clock counts. One that has been silent for long has
crashed with its machine, or lost its way to the database, and what it had in hand may be taken over. A file is open on
one machine only, where its processes tell all.
"""

from threading import Event, Lock, Thread
from typing import Any

from sqlalchemy import Float, cast, delete, extract, func, select
from sqlalchemy.dialects.postgresql import insert
from sqlalchemy.engine import Connection

from server.errors import JobInUse, StoreError
from server.records.database import Database
from server.records.owner import Owner
from server.records.tables import JobRow, ProgramRow

SIGN_EVERY_S = 5.0
SILENT_S = 30.0
"""Six signs missed in a row: longer than a database server takes to start afresh."""

NOW_S = cast(extract("epoch", func.clock_timestamp()), Float)
"""Seconds since 1970 by the database's clock; PostgreSQL's manual: the true time, also within a transaction."""


class ProgramRecords(Database):
    """The part of the record in which programs say that they live."""

    def __init__(self, *arguments: Any, **named: Any) -> None:  # noqa: ANN401 - as Database takes them
        """Open it, as Database says; nothing is signed before something is in hand."""
        super().__init__(*arguments, **named)
        self._ended = Event()
        self._signing = Lock()
        self._signs: Thread | None = None

    def close(self) -> None:
        """Write no more signs, and let go of the record."""
        self._ended.set()
        if self._signs is not None:
            self._signs.join()
        super().close()

    def sign(self) -> None:
        """Write a sign of life.

        Raises:
            StoreError: it is not in the record.
        """
        with self._writing() as connection:
            _sign(connection, self._owner)

    def _begin_to_sign(self, connection: Connection) -> None:
        """Write a sign with what is taken in hand, and go on writing them; in a file nobody needs any."""
        if self.place.file is not None:
            return
        _sign(connection, self._owner)
        with self._signing:
            if self._signs is None:
                self._signs = Thread(target=self._go_on_signing, name="signs of life", daemon=True)
                self._signs.start()

    def _go_on_signing(self) -> None:
        while not self._ended.wait(SIGN_EVERY_S):
            try:
                self.sign()
            except StoreError:  # the database is away: what cannot be kept is told where it is kept
                continue

    def _lives(self, connection: Connection, owner: Owner) -> bool:
        """Tell whether a program still runs; one that never signed, of an older kind, is taken to."""
        if self._is_elsewhere(owner):
            seen_s = select(NOW_S - ProgramRow.seen_s).where(*_is(owner))
            silent_s = connection.execute(seen_s).scalar_one_or_none()
            return silent_s is None or silent_s <= SILENT_S
        return owner.lives_here()

    def _is_elsewhere(self, owner: Owner) -> bool:
        return self.place.file is None and owner.host != self._owner.host

    def _require_hands(self, connection: Connection, job_id: int) -> None:
        """Refuse to go on with a job that a living program took over meanwhile.

        Raises:
            JobInUse: it is in other hands.
        """
        claim = select(JobRow.claim_host, JobRow.claim_pid, JobRow.claim_began).where(JobRow.id == job_id)
        owner = owner_of(connection.execute(claim).one_or_none())
        if owner is not None and owner != self._owner and self._lives(connection, owner):
            raise JobInUse(
                f"Job {job_id} has been taken over by another program ({owner.said}), since this one gave no sign of "
                "life for a while; go on there. What was read until now is kept."
            )

    def _forget_the_silent(self, connection: Connection) -> None:
        """Forget programs long silent, once nothing is in their hands."""
        if self.place.file is None:
            connection.execute(delete(ProgramRow).where(NOW_S - ProgramRow.seen_s > SILENT_S))


def owner_of(row: Any) -> Owner | None:  # noqa: ANN401 - a row of host, number and beginning
    """Give the program that a row names, where it names one."""
    if row is None or row[1] is None or row[2] is None:
        return None
    return Owner(*row)


def _is(owner: Owner) -> tuple[Any, ...]:
    return (ProgramRow.host == owner.host, ProgramRow.pid == owner.pid, ProgramRow.began == owner.began)


def _sign(connection: Connection, owner: Owner) -> None:
    signed = insert(ProgramRow).values(host=owner.host, pid=owner.pid, began=owner.began, seen_s=NOW_S)
    key = (ProgramRow.host, ProgramRow.pid, ProgramRow.began)
    connection.execute(signed.on_conflict_do_update(index_elements=key, set_={"seen_s": signed.excluded.seen_s}))
