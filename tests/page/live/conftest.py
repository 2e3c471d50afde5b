"""The live area alone on a page, as a laptop and as a phone show it."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Page

from tests.page.conftest import Fake, OpenContext, serving
from tests.page.fake_live import open_harness
from tests.page.fake_service import FakeBench
from tests.page.reach import PHONE


@pytest.fixture(scope="module")
def fake() -> Iterator[Fake]:
    """One service for all of these: nothing here changes it."""
    with serving(FakeBench()) as running:
        yield running


@pytest.fixture
def page(new_context: OpenContext, fake: Fake) -> Page:
    """Open a page with the live area alone, as a laptop shows it."""
    return open_harness(new_context().new_page(), fake.address)


@pytest.fixture
def phone(new_context: OpenContext, fake: Fake) -> Page:
    """Open the same on a phone."""
    return open_harness(new_context(**PHONE).new_page(), fake.address)
