"""Frequency drift over real sockets in stepped time, on both practice receivers, against their own oscillators."""

from collections.abc import Iterator

import pytest

from sequences.alignment.outcome import Finding, Phase, StepOutcome, Task
from sequences.engine.instruments import Bench
from sequences.engine.run import Limits, run
from sequences.kinds import alignment_plan
from sequences.kinds.frequency_drift import MAINS, RATE, WANDER, frequency_drift
from sequences.numerics.verdicts.verdict import Verdict
from server.bench.file import BenchFile
from server.wiring import open_bench
from tests.bench.bench_time import BenchClock, CounterInTime
from tests.bench.practice import Practice, practice
from tests.bench.robot import Robot
from tests.bench.steps import shipped
from tests.bench.test_warm_up import OSCILLATORS, true_oscillators
from tests.fakes import Sink, StopAfter

S_AN_HOUR = 3600.0


@pytest.fixture(params=["skerry-7", "millrace-5"])
def receiver_id(request: pytest.FixtureRequest) -> str:
    """Both practice receivers."""
    return str(request.param)


@pytest.fixture
def bench(receiver_id: str) -> Iterator[Practice]:
    """A receiver in stepped time."""
    with practice("--receiver", receiver_id, "--stepped-time", "--seed", "3") as one:
        yield one


def with_limit(receiver_id: str, limit_hz: float) -> Task:
    """Give the step's task from a file that sets a limit for it."""
    receiver = shipped(receiver_id)
    limits = receiver.limits.model_copy(update={"drift_hz_per_hour": limit_hz})
    receiver = receiver.model_copy(update={"limits": limits})
    step = alignment_plan(receiver).step("frequency-drift")
    return Task(receiver, step, step.ways[0], Phase.AS_FOUND)


def carry_out(bench: Practice, task: Task, robot: Robot) -> tuple[StepOutcome, float]:
    """Run the step; give the outcome, and how long it took by the bench's clock."""
    clock = BenchClock(bench)
    link = open_bench(BenchFile.model_validate({"counter": {"address": bench.counter}}))
    try:
        assert link.bench.counter is not None
        outcome = run(
            frequency_drift(task),
            Bench(counter=CounterInTime(link.bench.counter, clock)),
            emit=Sink(),
            stop=StopAfter(),
            clock=clock,
            limits=Limits(highest_power_dbm=-100.0),
            name="drift",
            person=robot,
        )
        return outcome, clock.now()
    finally:
        link.close()


def figure(outcome: StepOutcome, key: str) -> Finding:
    """Give one figure."""
    return next(one for one in outcome.findings if one.quantity.key == key)


def test_a_cold_receiver_drifts_as_its_oscillator_does(bench: Practice, receiver_id: str) -> None:
    """Ten minutes from cold, over a small limit: the straight line lies between the first and the last slope."""
    task = with_limit(receiver_id, 1.0)
    for control, to in task.way.hookup.controls.items():
        bench.do(do="set", control=control, to=to)
    bench.do(do="cool")
    before_hz = true_oscillators(bench)[OSCILLATORS[receiver_id]]

    outcome, took_s = carry_out(bench, task, Robot(bench))

    after_hz = true_oscillators(bench)[OSCILLATORS[receiver_id]]
    rate = figure(outcome, RATE.key)
    assert rate.figure is not None, rate.reason
    assert 600.0 <= took_s < 700.0
    mean_hz = (after_hz - before_hz) * S_AN_HOUR / took_s
    assert 0.7 < rate.figure.value / mean_hz < 1.1
    assert outcome.verdict is Verdict.SUSPECT
    wander = figure(outcome, WANDER.key)
    assert wander.figure is not None
    assert 0.0 < wander.figure.value < abs(after_hz - before_hz)


def test_a_warm_receiver_is_within_its_limit_and_its_mains_do_nothing(bench: Practice, receiver_id: str) -> None:
    """The practice receivers have no mains: what varying it changes is nothing, within what counting tells."""
    outcome, _ = carry_out(bench, with_limit(receiver_id, 500.0), Robot(bench, decide={"mains": "yes"}))

    rate, mains = figure(outcome, RATE.key), figure(outcome, MAINS.key)
    assert rate.figure is not None
    assert mains.figure is not None
    assert abs(rate.figure.value) < 2.0 * rate.figure.sigma + 5.0
    assert abs(mains.figure.value) <= 3.0 * mains.figure.sigma
    assert outcome.verdict is Verdict.LEAVE


def test_a_mains_that_cannot_be_set_gives_no_figure_and_is_put_back(bench: Practice, receiver_id: str) -> None:
    """The drift is measured all the same."""
    robot = Robot(bench, decide={"mains": "yes", "mains voltage": "cannot"})

    outcome, _ = carry_out(bench, with_limit(receiver_id, 500.0), robot)

    assert [one.quantity for one in outcome.findings] == [RATE, WANDER]
    assert [one.text for one in robot.done][-1].startswith("Set the mains voltage back")
