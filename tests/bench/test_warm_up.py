"""Warm-up over real sockets, from cold, on both practice receivers; their time is stepped."""

import pytest

from sequences.alignment.outcome import Finding, Phase, StepOutcome, Task
from sequences.engine.instruments import Bench
from sequences.engine.run import Limits, run
from sequences.numerics.figures import Estimate
from sequences.numerics.verdict import Verdict
from sequences.plan.order import alignment_plan
from sequences.procedures.warm_up import warm_up
from server.bench_file import BenchFile
from server.wiring import open_bench
from tests.bench.bench_time import BenchClock, CounterInTime
from tests.bench.practice import Practice, practice
from tests.bench.robot import Robot
from tests.bench.steps import shipped
from tests.fakes import Sink, StopAfter

OSCILLATORS = {"skerry-7": "tunable oscillator", "millrace-5": "oscillator"}


def carry_out(bench: Practice, receiver_id: str) -> StepOutcome:
    """Warm up with a counter alone on the bench, in the bench's own time."""
    receiver = shipped(receiver_id)
    step = alignment_plan(receiver).step("warm-up")
    clock = BenchClock(bench)
    link = open_bench(BenchFile.model_validate({"counter": {"address": bench.counter}}))
    try:
        assert link.bench.counter is not None
        return run(
            warm_up(Task(receiver, step, step.ways[0], Phase.AS_FOUND)),
            Bench(counter=CounterInTime(link.bench.counter, clock)),
            emit=Sink(),
            stop=StopAfter(),
            clock=clock,
            limits=Limits(highest_power_dbm=-100.0),
            name="warm-up",
            person=Robot(bench),
        )
    finally:
        link.close()


def true_rate(bench: Practice, receiver_id: str) -> float:
    """Give the drift in Hz over the next minute, by the simulator's own truth."""
    at_hz = []
    for _ in range(2):
        at_hz.append(float(bench.do(do="truth")["truth"]["oscillators"][OSCILLATORS[receiver_id]]))
        bench.do(do="wait", seconds=60.0)
    return at_hz[1] - at_hz[0]


def figures(outcome: StepOutcome) -> tuple[Finding, Estimate, Estimate]:
    """Give the drift's finding, the drift in Hz a minute and the time in minutes."""
    drift, time = outcome.findings
    assert drift.figure is not None
    assert time.figure is not None
    return drift, drift.figure, time.figure


@pytest.mark.parametrize("receiver_id", OSCILLATORS)
@pytest.mark.parametrize("seed", ["2", "6"])
def test_a_cold_receiver_is_waited_for_until_it_drifts_slowly(receiver_id: str, seed: str) -> None:
    """The rate told lags by the minute that its counts are old, in which drift with these time constants falls 13 %."""
    limit = shipped(receiver_id).limits.drift_hz_per_minute
    with practice("--receiver", receiver_id, "--seed", seed, "--cold", "--stepped-time") as bench:
        outcome = carry_out(bench, receiver_id)
        truth = true_rate(bench, receiver_id)

    drift, rate, minutes = figures(outcome)
    assert drift.judged is not None
    assert drift.judged.verdict is Verdict.LEAVE
    assert abs(truth) < limit
    assert abs(rate.value - truth) < 0.3 * abs(truth) + 4 * rate.sigma
    assert 5.0 < minutes.value < shipped(receiver_id).limits.longest_warm_up_minutes


@pytest.mark.parametrize("receiver_id", OSCILLATORS)
def test_a_warm_receiver_is_known_in_two_minutes(receiver_id: str) -> None:
    """It has been on for hours."""
    with practice("--receiver", receiver_id, "--stepped-time") as bench:
        _, rate, minutes = figures(carry_out(bench, receiver_id))

    assert minutes.value == pytest.approx(2.0, abs=0.1)
    assert abs(rate.value) <= 4 * rate.sigma
