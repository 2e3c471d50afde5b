"""A service with a step to be done, for the tests of step sessions."""

from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path

import pytest

from tests.server.benches import eventually
from tests.server.place import Place


@pytest.fixture
def opened() -> Iterator[Callable[[Place], Place]]:
    """Run services until the test ends."""
    with ExitStack() as stack:

        def run(place: Place) -> Place:
            stack.enter_context(place.client)
            eventually(lambda: place.me.bench()["instruments"])
            return place

        yield run


@pytest.fixture
def place(tmp_path: Path, opened: Callable[[Place], Place]) -> Place:
    """A running service with everything ready."""
    return opened(Place(tmp_path))
