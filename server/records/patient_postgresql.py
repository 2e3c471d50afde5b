"""A connection to PostgreSQL with a deadline: a server that no longer answers must not hold a run with its source on.

The server's own `statement_timeout` is of no use where the server, or the way to it, has stalled.
"""

from typing import Any, TypeVar

import psycopg
from psycopg.abc import PQGen

R = TypeVar("R")

LONGEST_ANSWER_S = 4.0
"""How long one exchange may take; libpq's `connect_timeout` takes whole seconds."""


class PatientConnection(psycopg.Connection[Any]):
    """Patient for so long and no longer; after that the connection is closed, since an answer may still come."""

    longest_s = LONGEST_ANSWER_S

    def wait(self, gen: PQGen[R], interval: float = 0.1, timeout: float | None = None) -> R:
        """Wait for an exchange.

        Raises:
            psycopg.OperationalError: it took too long.
        """
        try:
            return super().wait(gen, interval, self.longest_s if timeout is None else timeout)
        except psycopg.errors._WaitTimeout as late:  # noqa: SLF001 - what the library raises
            self.pgconn.finish()
            raise psycopg.OperationalError(f"no answer within {self.longest_s:g} s") from late
