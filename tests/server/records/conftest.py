"""Places for a record: every test that asks for one runs on SQLite and on PostgreSQL."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from server.records.store import Store
from tests.server.records.samples import at_noon, empty_place


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
