"""Warm-up of an oscillator that cools to its place as Newton's law says, on paper."""

import dataclasses
import math

import pytest

from sequences.alignment.outcome import Phase, StepOutcome, Task
from sequences.engine.events import Progress
from sequences.engine.instruments import Bench, MeterReply
from sequences.engine.run import Limits as EngineLimits
from sequences.engine.run import Procedure, run
from sequences.kinds.warm_up import judge_drift, warm_up
from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.verdict import Verdict
from sequences.plan.content import WayName
from tests.fakes import FakeClock, Sink, StopAfter
from tests.sequences.procedures.oscillator_desk import Desk, reply, task_of

COLD_HZ = 780.0
TIME_CONSTANT_S = 540.0


class Warming:
    """A counter at an oscillator: 780 Hz off when cold, dying away with a time constant of 9 minutes."""

    def __init__(
        self, cold_hz: float = COLD_HZ, creep_hz_per_s: float = 0.0, *, silent_after_s: float = math.inf
    ) -> None:
        self.clock = FakeClock(time_s=0.0)
        self.cold_hz, self.creep, self.silent_after_s = cold_hz, creep_hz_per_s, silent_after_s

    def read_frequency(self, gate_s: float) -> MeterReply:
        """Count in the middle of the gate."""
        middle_s = self.clock.time_s + gate_s / 2
        self.clock.time_s += gate_s
        if middle_s > self.silent_after_s:
            return reply(None)
        return reply(3.02e6 + self.cold_hz * math.exp(-middle_s / TIME_CONSTANT_S) + self.creep * middle_s)

    def rate_hz_per_minute(self) -> float:
        """The rate now, by differentiation."""
        fading = -self.cold_hz / TIME_CONSTANT_S * math.exp(-self.clock.time_s / TIME_CONSTANT_S)
        return 60.0 * (fading + self.creep)


def carry_out(procedure: Procedure[StepOutcome], warming: Warming) -> tuple[StepOutcome, Sink]:
    """Run on a clock that costs nothing."""
    sink = Sink()
    outcome = run(
        procedure,
        Bench(counter=warming),
        emit=sink,
        stop=StopAfter(),
        clock=warming.clock,
        limits=EngineLimits(highest_power_dbm=-100.0),
        name="warm-up",
        person=Desk(),
    )
    return outcome, sink


def task() -> Task:
    """The Skerry 7's: 5 Hz a minute, 60 minutes at most."""
    return task_of("warm-up", Phase.AS_FOUND)


def test_it_waits_until_the_drift_is_slow_enough() -> None:
    """780 Hz over 540 s: 86.7 Hz a minute at first, 5 after 540 ln(86.7/5) s, 25.7 minutes."""
    warming = Warming()

    outcome, _ = carry_out(warm_up(task()), warming)

    drift, time = outcome.findings[:2]
    assert drift.figure is not None
    assert time.figure is not None
    assert abs(warming.rate_hz_per_minute()) < 5.0
    assert 25.7 < time.figure.value < 32.0
    assert drift.judged is not None
    assert drift.judged.verdict is Verdict.LEAVE
    assert abs(drift.figure.value - warming.rate_hz_per_minute()) < 1.0


def test_a_warm_receiver_keeps_nobody_waiting() -> None:
    """Two minutes of counts suffice."""
    outcome, _ = carry_out(warm_up(task()), Warming(cold_hz=0.0))

    assert outcome.findings[1].figure == Estimate(2.0, 0.0)


def test_the_time_that_is_left_is_foretold() -> None:
    """Ten minutes in, from the way the rate has fallen until then."""
    _, sink = carry_out(warm_up(task()), Warming())

    told = [one for one in sink.of(Progress) if isinstance(one, Progress)]
    assert told[20].remaining_s is not None
    whole_s = 20 * 30.0 + told[20].remaining_s
    assert whole_s == pytest.approx(25.7 * 60.0, rel=0.15)
    assert told[-1].done == pytest.approx(1.0)
    assert [one.done for one in told[10:]] == sorted(one.done for one in told[10:])


def test_a_drift_that_does_not_die_away_points_to_a_part() -> None:
    """12 Hz a minute for an hour."""
    outcome, _ = carry_out(warm_up(task()), Warming(cold_hz=0.0, creep_hz_per_s=0.2))

    assert outcome.verdict is Verdict.SUSPECT
    assert outcome.findings[1].figure == Estimate(60.0, 0.0)


def test_a_counter_that_falls_silent_leaves_a_reason() -> None:
    """After five empty counts."""
    outcome, _ = carry_out(warm_up(task()), Warming(silent_after_s=200.0))

    assert outcome.findings[0].figure is None
    assert "lay the pick-up closer" in (outcome.findings[0].reason or "")


def test_a_receiver_nothing_can_be_counted_on_is_given_its_time() -> None:
    """An hour of it."""
    warming, at_hand = Warming(), task()
    waiting = dataclasses.replace(at_hand, way=dataclasses.replace(at_hand.way, name=WayName.WAIT))

    outcome, _ = carry_out(warm_up(waiting), warming)

    assert warming.clock.time_s == pytest.approx(3600.0)
    assert outcome.findings[0].reason
    assert outcome.verdict is None


@pytest.mark.parametrize(
    ("rate", "minutes", "verdict"),
    [
        (Estimate(-4.0, 0.2), 20.0, Verdict.LEAVE),
        (Estimate(5.1, 0.2), 60.0, Verdict.LEAVE),
        (Estimate(9.0, 0.2), 20.0, Verdict.TOUCH_UP),
        (Estimate(-9.0, 0.2), 60.0, Verdict.SUSPECT),
    ],
)
def test_a_drift_is_judged_with_the_time_it_had(rate: Estimate, minutes: float, verdict: Verdict) -> None:
    """Nothing can be turned for it."""
    judged = judge_drift(rate, 5.0, minutes, 60.0)

    assert judged.verdict is verdict
    assert "adjust it" not in judged.text
