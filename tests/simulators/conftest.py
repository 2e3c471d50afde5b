"""What the simulators' tests share."""

from collections.abc import Callable, Iterator
from contextlib import ExitStack

import pytest

from simulators.bench import BenchOptions, PracticeBench
from tests.simulators.benches import Bench


@pytest.fixture
def open_bench() -> Iterator[Callable[[BenchOptions], Bench]]:
    """Give a function that starts a bench in this process; all are stopped at the end."""
    with ExitStack() as stack:

        def start(options: BenchOptions) -> Bench:
            practice = PracticeBench(options)
            practice.start()
            stack.callback(practice.stop)
            bench = Bench(practice.addresses)
            stack.callback(bench.close)
            return bench

        yield start
