"""What every test may use: outside programs, asked for by name."""

import os
import shutil
from collections.abc import Iterator

import hypothesis
import pytest

from tests.postgresql import Cluster, find_programs

# A busy machine is no failure: no example of a law is judged by how long it took.
hypothesis.settings.register_profile("steady", deadline=None)
hypothesis.settings.load_profile("steady")


def pytest_configure(config: pytest.Config) -> None:
    """Let each program that a test starts find compiled what the one before it imported.

    Where the environment forbids Python to keep what it compiled, hundreds of programs would compile all they import,
    which takes longer than most tests. It is kept in the test run's own cache then, beside no source.
    """
    cache: pytest.Cache | None = getattr(config, "cache", None)  # pytest can be told to do without
    if cache is not None and os.environ.pop("PYTHONDONTWRITEBYTECODE", ""):
        os.environ["PYTHONPYCACHEPREFIX"] = str(cache.mkdir("bytecode"))


def pytest_xdist_auto_num_workers() -> int:
    """Give two workers a core: most tests wait for another process about half of their time."""
    return 2 * (os.cpu_count() or 1)


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
