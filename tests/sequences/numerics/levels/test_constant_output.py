"""Constant output: the source is moved until the meter reads its target, whatever the detector's law."""

import math
from collections.abc import Callable

import numpy as np
import pytest

from sequences.numerics.levels.constant_output import (
    Decision,
    OutputGoal,
    OutputHeld,
    OutputOutOfReach,
    OutputTrial,
    TryPower,
    next_power,
)

Meter = Callable[[float], float]


def linear(power_dbm: float) -> float:
    """A linear detector, 1 V at -30 dBm."""
    return math.pow(10.0, (power_dbm + 30.0) / 20.0)


def square(power_dbm: float) -> float:
    """A square-law detector, 1 V at -30 dBm."""
    return math.pow(10.0, (power_dbm + 30.0) / 10.0)


def agc(power_dbm: float) -> float:
    """A negative-going AGC line."""
    return -1.0 - 0.9 * math.log1p(math.exp((power_dbm + 75.0) / 6.0))


def falling(power_dbm: float) -> float:
    """A positive voltage that falls as the signal rises."""
    return 5.0 - 3.0 / (1.0 + math.exp(-(power_dbm + 60.0) / 7.0))


def carry_out(goal: OutputGoal, meter: Meter, rng: np.random.Generator) -> tuple[Decision, int]:
    """Do as told until there is a result."""
    trials: list[OutputTrial] = []
    while True:
        decision = next_power(goal, trials)
        if not isinstance(decision, TryPower):
            return decision, len(trials)
        assert goal.lowest_dbm <= decision.power_dbm <= goal.highest_dbm
        assert len(trials) < goal.budget
        noise_v = float(rng.normal(0.0, goal.volts_sigma))
        trials.append(OutputTrial(decision.power_dbm, meter(decision.power_dbm) + noise_v))


def goal_for(target_v: float, *, start_dbm: float = -70.0, sigma_v: float = 1e-4) -> OutputGoal:
    """A source that may go from -110 to -20 dBm."""
    return OutputGoal(target_v, sigma_v, 0.05, -110.0, -20.0, start_dbm)


@pytest.mark.parametrize(
    ("meter", "true_dbm"), [(linear, -45.0), (square, -41.0), (agc, -62.3), (falling, -57.7), (agc, -85.0)]
)
@pytest.mark.parametrize("start_dbm", [-100.0, -70.0, -50.0, -30.0])
def test_the_power_that_holds_the_output_is_found_whatever_the_law(
    meter: Meter, true_dbm: float, start_dbm: float
) -> None:
    decision, readings = carry_out(goal_for(meter(true_dbm), start_dbm=start_dbm), meter, np.random.default_rng(1))
    assert isinstance(decision, OutputHeld)
    assert decision.power_dbm.value == pytest.approx(true_dbm, abs=0.15)
    assert decision.level_db.value == -decision.power_dbm.value
    assert readings <= 16


def test_near_the_last_level_few_readings_are_needed() -> None:
    _, readings = carry_out(goal_for(linear(-45.0), start_dbm=-46.5), linear, np.random.default_rng(2))
    assert readings <= 4


@pytest.mark.parametrize("meter", [linear, agc])
def test_the_stated_uncertainty_covers_the_truth(meter: Meter) -> None:
    rng = np.random.default_rng(7)
    inside = []
    for _ in range(300):
        true_dbm = float(rng.uniform(-60.0, -45.0))
        sigma_v = 0.01 * abs(meter(true_dbm))
        goal = goal_for(meter(true_dbm), start_dbm=true_dbm + float(rng.uniform(-8.0, 8.0)), sigma_v=sigma_v)
        decision, _ = carry_out(goal, meter, rng)
        assert isinstance(decision, OutputHeld)
        inside.append(abs(decision.power_dbm.value - true_dbm) <= 1.96 * decision.power_dbm.sigma)
    assert np.mean(inside) >= 0.93


def test_a_target_above_the_sources_reach_is_refused_and_says_so() -> None:
    decision, _ = carry_out(goal_for(linear(-10.0)), linear, np.random.default_rng(1))
    assert isinstance(decision, OutputOutOfReach)
    assert "highest allowed level" in decision.reason
    assert "too low" in decision.reason


def test_a_meter_that_does_not_answer_is_refused_and_says_so() -> None:
    decision, readings = carry_out(goal_for(1.0, sigma_v=1e-3), lambda _: 0.3, np.random.default_rng(1))
    assert isinstance(decision, OutputOutOfReach)
    assert "check the hookup" in decision.reason
    assert readings <= 16
