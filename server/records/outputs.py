"""Which sources may have their output on: known to the next start, however this one ends."""

from typing import Any

from sqlalchemy import delete, insert, select

from server.records.database import Database
from server.records.tables import OutputRow


class OutputRecords(Database):
    """The part of the record in which a source stands from before its output goes on until it is confirmed off."""

    def mark_output(self, address: str) -> str:
        """Enter that the output of the source at this address may be on; give since when that is so.

        Raises:
            StoreError: it is not in the record; the output must not go on.
        """
        with self._writing() as connection:
            since = connection.execute(select(OutputRow.since_utc).where(*self._is(address))).scalar_one_or_none()
            if since is not None:
                return since
            row = {"host": self._owner.host, "address": address, "since_utc": self._stamp()}
            connection.execute(insert(OutputRow).values(**row))
            return row["since_utc"] or ""

    def clear_output(self, address: str) -> None:
        """Enter that the source at this address confirmed that its output is off.

        Raises:
            StoreError: it is not in the record.
        """
        with self._writing() as connection:
            connection.execute(delete(OutputRow).where(*self._is(address)))

    def output_marked(self, address: str) -> str | None:
        """Give since when the output of the source at this address may be on; None where it is off.

        Raises:
            StoreError: the record cannot be read.
        """
        with self._reading() as connection:
            return connection.execute(select(OutputRow.since_utc).where(*self._is(address))).scalar_one_or_none()

    def outputs_marked(self) -> list[tuple[str, str]]:
        """Give the address of each source that may be on, and since when.

        Raises:
            StoreError: the record cannot be read.
        """
        question = select(OutputRow.address, OutputRow.since_utc).where(OutputRow.host == self._owner.host)
        with self._reading() as connection:
            return [(address, since) for address, since in connection.execute(question)]

    def _is(self, address: str) -> tuple[Any, ...]:
        return (OutputRow.host == self._owner.host, OutputRow.address == address)
