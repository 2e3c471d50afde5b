"""What is still to come of a warm-up: against sums of exponentials, Newton's law of cooling written down by hand."""

import math

import numpy as np
import pytest

from sequences.numerics.arrays import Array
from sequences.numerics.oscillators.warming import still_to_come


def warm_up(
    heats: list[tuple[float, float]], dice: np.random.Generator, *, slow_hz: float = 5.0, noise_hz: float = 0.41
) -> tuple[Array, Array, float]:
    """Count every 30 s until the drift is below `slow_hz` a minute or an hour is over; times in s, counts, the rest.

    `heats`: what each flow of heat moves the oscillator by in all, in Hz, and its time constant in minutes.
    """
    minutes = np.arange(0.0, 60.1, 0.5)
    course, rate = np.zeros_like(minutes), np.zeros_like(minutes)
    for hertz, constant in heats:
        course += hertz * np.exp(-minutes / constant)
        rate += hertz / constant * np.exp(-minutes / constant)
    slow = np.flatnonzero(np.abs(rate) < slow_hz)
    count = (int(slow[0]) if slow.size else len(minutes) - 2) + 2
    counts = 3.02e6 + course[:count] + dice.normal(0.0, noise_hz, count)
    return 60.0 * minutes[:count], counts, abs(float(course[count - 1]))


def test_two_flows_of_heat_are_told_or_left_wide() -> None:
    """780 Hz in 9 minutes and 350 Hz in 60: a single exponential says a third of it, and is sure of it."""
    time_s, counts, left_hz = warm_up([(780.0, 9.0), (350.0, 60.0)], np.random.default_rng(1))
    told = still_to_come(time_s, counts, 0.41)
    assert told is not None
    assert left_hz > 150.0
    assert abs(told.value - left_hz) < 2.0 * told.sigma
    assert told.sigma < 0.8 * left_hz


@pytest.mark.parametrize("noise_hz", [0.41, 2.0])
@pytest.mark.parametrize("flows", [1, 2])
def test_what_is_said_to_come_holds_the_truth(flows: int, noise_hz: float) -> None:
    dice = np.random.default_rng([flows, round(10 * noise_hz)])
    off = []
    for _ in range(40):
        heats = [(dice.uniform(300.0, 1000.0), dice.uniform(4.0, 12.0))]
        heats += [(dice.uniform(100.0, 500.0), dice.uniform(30.0, 90.0))] if flows == 2 else []
        time_s, counts, left_hz = warm_up(heats, dice, noise_hz=noise_hz)
        told = still_to_come(time_s, counts, noise_hz)
        off += [] if told is None else [abs(told.value - left_hz) / told.sigma]
    assert np.mean(np.array(off) < 1.96) >= 0.93
    assert np.mean(np.array(off) < 3.0) >= 0.97


def test_steady_counts_are_told_closely_once_they_have_died_away() -> None:
    """To a twentieth of a hertz a count: 780 Hz in 9 minutes leave 780 exp(-t / 9) at the end."""
    time_s, counts, left_hz = warm_up([(780.0, 9.0)], np.random.default_rng(4), noise_hz=0.02)
    told = still_to_come(time_s, counts, 0.02)
    assert told is not None
    assert told.value == pytest.approx(left_hz, rel=0.05)
    assert 0.0 < told.sigma < 0.1 * left_hz


def test_the_way_of_the_drift_and_the_unit_of_noise_do_not_matter() -> None:
    time_s, counts, _ = warm_up([(780.0, 9.0)], np.random.default_rng(4))
    up, down = still_to_come(time_s, counts, 0.41), still_to_come(time_s, -counts, 0.41)
    assert up is not None
    assert down is not None
    assert up.value == pytest.approx(down.value, rel=1e-6)
    louder = still_to_come(time_s, 10.0 * counts, 4.1)
    assert louder is not None
    assert louder.sigma == pytest.approx(10.0 * up.sigma, rel=1e-6)


def test_scatter_beyond_the_counter_widens_what_is_told() -> None:
    time_s, counts, left_hz = warm_up([(780.0, 9.0)], np.random.default_rng(5), noise_hz=1.0)
    told = still_to_come(time_s, counts, 0.1)
    assert told is None or (told.sigma > 10.0 and abs(told.value - left_hz) < 3.0 * told.sigma)


def test_a_warm_receiver_and_a_few_counts_tell_nothing() -> None:
    dice = np.random.default_rng(6)
    assert still_to_come(30.0 * np.arange(40), 1e6 + dice.normal(0.0, 0.4, 40), 0.41) is None
    time_s, counts, _ = warm_up([(780.0, 9.0)], dice)
    assert still_to_come(time_s[:8], counts[:8], 0.41) is None
    assert still_to_come(time_s, counts, math.nan) is None
    with pytest.raises(ValueError, match="one time for each count"):
        still_to_come(time_s, counts[1:], 0.41)
