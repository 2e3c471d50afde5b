"""The customer's job and its report."""

from collections.abc import Iterator

import pytest

from server.records.store import Store
from server.report.content import Report
from tests.server.report.jobs import customer_store, report_of


@pytest.fixture(scope="session")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """A record with the job in it, which no test changes."""
    opened = customer_store(tmp_path_factory.mktemp("record"))
    yield opened
    opened.close()


@pytest.fixture(scope="session")
def practice_report(tmp_path_factory: pytest.TempPathFactory) -> Report:
    """The report of the same job done for practice."""
    store = customer_store(tmp_path_factory.mktemp("practice"), mode="practice")
    try:
        return report_of(store)
    finally:
        store.close()


@pytest.fixture(scope="session")
def report(store: Store) -> Report:
    """The report of the job."""
    return report_of(store)
