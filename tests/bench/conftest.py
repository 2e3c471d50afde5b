"""The practice receivers that several procedures are tried on, with the robot for a person."""

from collections.abc import Iterator

import pytest

from tests.bench.steps import FINGERS_TURNS, StepBench, step_bench


@pytest.fixture(scope="module")
def skerry() -> Iterator[StepBench]:
    """A Skerry 7; each test puts its own unit on the bench."""
    with step_bench("skerry-7", coarse_turns=FINGERS_TURNS) as bench:
        yield bench


@pytest.fixture(scope="module")
def millrace() -> Iterator[StepBench]:
    """A Millrace 5; each test puts its own unit on the bench."""
    with step_bench("millrace-5", coarse_turns=FINGERS_TURNS) as bench:
        yield bench
