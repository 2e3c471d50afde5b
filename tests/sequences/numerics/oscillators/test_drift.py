"""How fast an oscillator drifts: held against a straight line and against Newton's law of cooling, worked by hand."""

import math

import numpy as np
import pytest

from sequences.numerics.figures import Estimate
from sequences.numerics.oscillators.drift import RateAt, drift_rate, is_slow_enough, seconds_until


def test_a_straight_drift_is_told_in_hertz_a_minute() -> None:
    """2 Hz every 30 s is 4 Hz a minute."""
    rate = drift_rate([0.0, 30.0, 60.0, 90.0], [1000.0, 1002.0, 1004.0, 1006.0], 0.0)

    assert rate.value == pytest.approx(4.0)
    assert rate.sigma == pytest.approx(0.0, abs=1e-9)


def test_the_count_s_own_uncertainty_is_carried_over() -> None:
    """Slope sigma = sigma / sqrt(sum (t - mean)^2): at -1, 0 and 1 minutes that is sigma / sqrt 2."""
    rate = drift_rate([0.0, 60.0, 120.0], [5.0, 5.0, 5.0], 0.4)

    assert rate.value == 0.0
    assert rate.sigma == pytest.approx(0.4 / math.sqrt(2.0))


def test_the_stated_uncertainty_covers_the_truth() -> None:
    """95 % of intervals of 1.96 sigma hold the true rate, within what 2000 trials allow."""
    random = np.random.default_rng(5)
    time_s = np.arange(5) * 30.0
    covered = 0
    for _ in range(2000):
        counts = 1e6 - 3.0 * time_s / 60.0 + random.normal(0.0, 0.4, 5)
        rate = drift_rate(time_s, counts, 0.4)
        covered += abs(rate.value + 3.0) <= 1.96 * rate.sigma
    assert covered / 2000 > 0.95


def test_what_is_left_of_the_warm_up_follows_newton_s_law_of_cooling() -> None:
    """A rate that halves every 100 s goes from 8 to 1 Hz a minute in three such times."""
    left_s = seconds_until(1.0, RateAt(0.0, 16.0), RateAt(100.0, 8.0))

    assert left_s == pytest.approx(300.0)


@pytest.mark.parametrize(("earlier", "later"), [(8.0, 8.0), (8.0, 9.0), (0.0, 2.0)])
def test_a_rate_that_does_not_fall_promises_nothing(earlier: float, later: float) -> None:
    """Nobody knows when it will be warm."""
    assert seconds_until(1.0, RateAt(0.0, earlier), RateAt(60.0, later)) is None


def test_a_rate_within_its_limit_has_nothing_left_to_wait_for() -> None:
    """Which way it drifts does not matter."""
    assert seconds_until(5.0, RateAt(0.0, -9.0), RateAt(60.0, -4.0)) == 0.0


def test_a_rate_is_slow_enough_only_with_its_uncertainty() -> None:
    """4 +- 0.4 is within 5; 4 +- 0.6 may not be."""
    assert is_slow_enough(Estimate(-4.0, 0.4), 5.0)
    assert not is_slow_enough(Estimate(-4.0, 0.6), 5.0)


@pytest.mark.parametrize("time_s", [[0.0, 30.0], [7.0, 7.0, 7.0]])
def test_too_few_counts_or_all_at_once_make_no_rate(time_s: list[float]) -> None:
    """One sentence says so."""
    with pytest.raises(ValueError, match="three or more counts, each with its own time"):
        drift_rate(time_s, [1.0] * len(time_s), 0.1)


@pytest.mark.parametrize("counts", [3, 4, 5])
def test_the_rate_of_few_counts_that_scatter_covers_the_truth(counts: int) -> None:
    """Scatter of 3 Hz, far above the 0.4 Hz that counting leaves, as a pick-up lead that moves gives it."""
    random = np.random.default_rng(counts)
    time_s = np.arange(counts) * 30.0
    rates = [drift_rate(time_s, random.normal(0.0, 3.0, counts) + 2.0 * time_s / 60.0, 0.4) for _ in range(2000)]
    covered = np.mean([abs(rate.value - 2.0) <= 1.96 * rate.sigma for rate in rates])
    assert 0.93 <= covered <= 0.97
