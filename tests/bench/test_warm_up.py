"""Warm-up over real sockets, from cold, on both practice receivers; their time is stepped."""

from dataclasses import replace
from functools import reduce

import pytest

from sequences.alignment.drift import drift_since, drift_warnings
from sequences.alignment.outcome import Finding, Phase, StepOutcome, Task
from sequences.alignment.progress import Choice, Note, Progress, StepBegun, StepDecided, StepMeasured, noted
from sequences.engine.instruments import Bench
from sequences.engine.run import Limits, run
from sequences.kinds import alignment_plan
from sequences.kinds.warm_up import warm_up
from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.verdict import Verdict
from server.bench.file import BenchFile
from server.wiring import open_bench
from tests.bench.bench_time import BenchClock, CounterInTime
from tests.bench.practice import Practice, practice
from tests.bench.robot import Robot
from tests.bench.steps import shipped
from tests.fakes import Sink, StopAfter

OSCILLATORS = {"skerry-7": "tunable oscillator", "millrace-5": "oscillator"}


def carry_out(bench: Practice, receiver_id: str, limit_hz: float | None = None) -> StepOutcome:
    """Warm up with a counter alone on the bench, in the bench's own time; to another limit where one is given."""
    receiver = shipped(receiver_id)
    step = alignment_plan(receiver).step("warm-up")
    if limit_hz is not None:
        step = replace(step, limits=(replace(step.limits[0], most=limit_hz), *step.limits[1:]))
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


def true_oscillators(bench: Practice) -> dict[str, float]:
    """Give every oscillator's frequency, by the simulator's own truth."""
    found: dict[str, float] = bench.do(do="truth")["truth"]["oscillators"]
    return found


def true_rate(bench: Practice, receiver_id: str) -> float:
    """Give the drift in Hz over the next minute, by the simulator's own truth."""
    at_hz = []
    for _ in range(2):
        at_hz.append(float(bench.do(do="truth")["truth"]["oscillators"][OSCILLATORS[receiver_id]]))
        bench.do(do="wait", seconds=60.0)
    return at_hz[1] - at_hz[0]


def figures(outcome: StepOutcome) -> tuple[Finding, Estimate, Estimate]:
    """Give the drift's finding, the drift in Hz a minute and the time in minutes."""
    drift, time = outcome.findings[:2]
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
def test_what_is_still_to_come_is_told_from_how_the_drift_dies_away(receiver_id: str) -> None:
    """Within 4 sigma and what the minute's lag makes of it, by the truth three hours later."""
    with practice("--receiver", receiver_id, "--seed", "2", "--cold", "--stepped-time") as bench:
        outcome = carry_out(bench, receiver_id)
        warm_hz = true_oscillators(bench)[OSCILLATORS[receiver_id]]
        bench.do(do="wait", seconds=3 * 3600.0)
        left_hz = abs(true_oscillators(bench)[OSCILLATORS[receiver_id]] - warm_hz)

    to_come = next(one.figure for one in outcome.findings if one.name == "drift still to come")
    assert to_come is not None
    assert abs(to_come.value - left_hz) < 0.3 * left_hz + 4 * to_come.sigma


SHARES = {"tunable oscillator": (0.7, 5.0), "third oscillator": (0.5, 7.0), "beat oscillator": (0.4, 9.0)}
"""After a few minutes nobody knows how the drift will die away, so that the rate carried on is the most it can be; the
others drift by shares of their own, which nobody can know either."""


def test_a_receiver_aligned_too_soon_is_warned_of_what_has_drifted_since() -> None:
    """Counted for but a few minutes; half an hour later what is told is what the simulator's oscillators did."""
    plan = alignment_plan(shipped("skerry-7"))
    with practice("--receiver", "skerry-7", "--seed", "2", "--cold", "--stepped-time") as bench:
        warm = carry_out(bench, "skerry-7", limit_hz=60.0)
        before = true_oscillators(bench)
        bench.do(do="wait", seconds=1800.0)
        drifted_hz = {name: abs(hz - before[name]) for name, hz in true_oscillators(bench).items()}
    notes: list[Note] = [
        StepBegun("warm-up", plan.step("warm-up").ways[0].name),
        StepMeasured(warm, at_s=0.0),
        StepDecided("warm-up", Choice.LEAVE),
    ]
    progress = reduce(noted, notes, Progress("skerry-7"))

    told = {one.name: one for one in drift_since(plan, progress, "dial-second", 1800.0)}
    assert set(told) == set(SHARES)
    for name, (least, most) in SHARES.items():
        foretold_hz = told[name].most_hz
        assert foretold_hz is not None
        assert least < foretold_hz / drifted_hz[name] < most
    (warning,) = drift_warnings(plan, progress, "oscillator-third", 1800.0)
    assert "if by the same share" in warning
    assert drift_warnings(plan, progress, "oscillator-third", 60.0) == ()


@pytest.mark.parametrize("receiver_id", OSCILLATORS)
def test_a_warm_receiver_is_known_in_two_minutes(receiver_id: str) -> None:
    """It has been on for hours."""
    with practice("--receiver", receiver_id, "--stepped-time") as bench:
        _, rate, minutes = figures(carry_out(bench, receiver_id))

    assert minutes.value == pytest.approx(2.0, abs=0.1)
    assert abs(rate.value) <= 4 * rate.sigma
