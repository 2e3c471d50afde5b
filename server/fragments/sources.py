"""What the page's parts are made of: the views of the API, as one client sees them."""

from collections.abc import Mapping
from typing import Any, Protocol

Query = Mapping[str, str]
Json = dict[str, Any]
"""A JSON object, as the API gives it."""


class Sources(Protocol):
    """Whoever can tell what the API tells. Each raises UnknownThing where there is no such thing."""

    def bench(self) -> Json:
        """Tell how the bench stands."""

    def receivers(self) -> list[Json]:
        """List the receivers."""

    def plan(self, receiver_id: str) -> Json:
        """Give the steps of a receiver's plan."""

    def jobs(self, query: Mapping[str, str]) -> list[Json]:
        """List the jobs that fit a search, newest first."""

    def job(self, job_id: int) -> Json:
        """Give a job with its steps."""

    def history(self, receiver_id: str, query: Mapping[str, str]) -> Json:
        """Give the figures of a receiver over the years."""

    def scans(self) -> list[Json]:
        """List the kept runs, newest first."""

    def scan(self, scan_id: int) -> Json:
        """Give one run."""
