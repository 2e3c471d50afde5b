"""Figures from few repeats, against printed values of Student's t and against trials."""

import math

import numpy as np
import pytest

from sequences.numerics.figures import Estimate, combined, mean_of


@pytest.mark.parametrize(("freedom", "factor"), [(1, 12.71), (2, 4.30), (3, 3.18), (4, 2.78), (8, 2.31), (50, 2.01)])
def test_a_sigma_known_from_few_repeats_is_widened_by_students_t(freedom: int, factor: float) -> None:
    # JCGM 100:2008, table G.2, column 95 %.
    shown = Estimate(5.0, 2.0, freedom).for_few_repeats()
    assert shown.value == 5.0
    assert 1.96 * shown.sigma == pytest.approx(2.0 * factor, rel=2e-3)
    assert math.isinf(shown.freedom)


def test_a_known_sigma_is_left_as_it_is() -> None:
    assert Estimate(5.0, 2.0).for_few_repeats() == Estimate(5.0, 2.0)


def test_the_degrees_of_freedom_of_the_guides_example_come_out() -> None:
    # JCGM 100:2008, annex H.1.6: parts of 25 (18), 9.7 (25.6), 2.9 (50), 16.6 (2) nm make 32 nm with 16 (from memory).
    parts = [Estimate(0.0, 25.0, 18), Estimate(0.0, 9.7, 25.6), Estimate(0.0, 2.9, 50), Estimate(0.0, 16.6, 2)]
    whole = combined(0.0, *((1.0, part) for part in parts))
    assert whole.sigma == pytest.approx(32.0, abs=0.5)
    assert whole.freedom == pytest.approx(16.7, abs=1.0)


def test_parts_count_by_their_change_of_the_figure() -> None:
    whole = combined(7.0, (0.5, Estimate(1.0, 6.0)), (-2.0, Estimate(3.0, 2.0)))
    assert whole == Estimate(7.0, 5.0)


def test_repeats_give_their_mean_and_the_scatter_of_it() -> None:
    # 990, 1000, 1010: s = 10, s / sqrt 3 = 5.774; with 0.4 common to all 5.787.
    mean = mean_of([990.0, 1000.0, 1010.0], 0.4)
    assert mean.value == 1000.0
    assert mean.sigma == pytest.approx(5.787, abs=0.001)
    assert mean.freedom == pytest.approx(2.0, rel=0.01)


def test_repeats_that_agree_leave_what_is_common_to_them() -> None:
    assert mean_of([1000.0, 1000.0, 1000.0], 0.4) == Estimate(1000.0, 0.4)
    assert mean_of([1000.0], 0.4) == Estimate(1000.0, 0.4)
    assert math.isnan(mean_of([1000.0, math.nan], 0.4).value)


def test_the_freedom_grows_with_the_share_that_is_known() -> None:
    assert mean_of([1.0, 2.0], 0.5).freedom < mean_of([1.0, 2.0], 5.0).freedom


@pytest.mark.parametrize("common", [0.0, 0.3, 1.0, 3.0])
@pytest.mark.parametrize("repeats", [2, 3, 4])
def test_intervals_from_few_repeats_cover_the_truth(repeats: int, common: float) -> None:
    rng = np.random.default_rng([repeats, round(10 * common)])
    inside = 0
    for _ in range(1500):
        mean = mean_of(list(rng.normal(0.0, math.sqrt(repeats), repeats) + rng.normal(0.0, common)), common)
        shown = mean.for_few_repeats()
        inside += abs(shown.value) <= 1.96 * shown.sigma
    assert 0.92 <= inside / 1500 <= 0.985
