"""What every test may use: outside programs, asked for by name."""

import os
import shutil

import hypothesis
import pytest

# A busy machine is no failure: no example of a law is judged by how long it took.
hypothesis.settings.register_profile("steady", deadline=None)
hypothesis.settings.load_profile("steady")


def require_program(name: str) -> str:
    """Give the path of an outside program; skip the test where it is missing, fail it under CI."""
    path = shutil.which(name)
    if path is None and os.environ.get("CI"):
        pytest.fail(f"CI must have {name!r} installed")
    if path is None:
        pytest.skip(f"the program {name!r} is not installed here")
    return path


@pytest.fixture(scope="session")
def chromium() -> str:
    """The browser the page is shown in."""
    return require_program("chromium")


@pytest.fixture(scope="session")
def ngspice() -> str:
    """The outside circuit simulator."""
    return require_program("ngspice")
