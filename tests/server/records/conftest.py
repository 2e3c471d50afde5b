"""Places for a record: every test that asks for one runs on SQLite and on PostgreSQL."""

import os
from collections.abc import Iterator
from pathlib import Path

import pytest

from server.records.store import Store
from tests.postgresql import Cluster, find_programs
from tests.server.records.samples import at_noon, empty_place


@pytest.fixture(scope="session")
def postgresql() -> Iterator[Cluster]:
    """A PostgreSQL server of this test run's own; skipped where none is installed, but not in CI."""
    programs = find_programs()
    if programs is None and os.environ.get("CI"):
        pytest.fail("CI must have a PostgreSQL server installed")
    if programs is None:
        pytest.skip("no PostgreSQL server is installed here")
    with Cluster(programs) as cluster:
        yield cluster


@pytest.fixture(params=["sqlite", "postgresql"])
def place(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Where an empty record may be made."""
    with empty_place(request, tmp_path) as where:
        yield where


@pytest.fixture
def store(place: str) -> Iterator[Store]:
    """An open record, where it is always noon."""
    opened = Store(place, now=at_noon)
    yield opened
    opened.close()
