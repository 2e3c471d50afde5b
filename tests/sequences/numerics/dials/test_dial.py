"""Dial errors split into what the pointer cures and what it does not."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linprog

from sequences.numerics.dials.dial import Suffices, judge_dial
from sequences.numerics.figures import DoubtName

MARKS_HZ = np.linspace(3.5e6, 4.0e6, 6)
ERRORS = st.lists(st.floats(-5000.0, 5000.0), min_size=6, max_size=6)


def test_a_dial_whose_error_is_the_same_everywhere_needs_only_its_pointer_moved() -> None:
    # A dial with the same error at both ends needs only its pointer moved: common practice, no source.
    result = judge_dial(MARKS_HZ, np.full(6, 1200.0), 50.0, 500.0)
    assert result.shift_hz.value == pytest.approx(1200.0)
    assert result.remaining_hz.value == pytest.approx(0.0)
    assert result.suffices is Suffices.YES
    assert result.bend_hz is not None
    assert abs(result.slope_hz.value) < 1e-6
    assert abs(result.bend_hz.value) < 1e-6
    assert "1.2 kHz higher" in result.text


@given(errors=ERRORS)
def test_the_shift_is_midway_between_the_largest_and_the_smallest_error(errors: list[float]) -> None:
    result = judge_dial(MARKS_HZ, errors, 50.0, 500.0)
    assert result.shift_hz.value == pytest.approx((max(errors) + min(errors)) / 2.0, abs=1e-6)
    assert result.remaining_hz.value == pytest.approx((max(errors) - min(errors)) / 2.0, abs=1e-6)


@given(errors=ERRORS, weights=st.lists(st.floats(0.3, 3.0), min_size=6, max_size=6))
def test_on_a_cramped_scale_the_shift_is_the_one_a_linear_programme_finds(
    errors: list[float], weights: list[float]
) -> None:
    # Least worst case as a linear programme: minimise t with |e - w s| <= t, solved by HiGHS through scipy.
    error, weight = np.array(errors), np.array(weights)
    ones = np.ones(6)
    above = np.column_stack((-weight, -ones))
    below = np.column_stack((weight, -ones))
    solved = linprog(
        [0.0, 1.0], np.vstack((above, below)), np.concatenate((-error, error)), bounds=[(None, None), (0.0, None)]
    )
    assert solved.fun is not None
    result = judge_dial(MARKS_HZ, errors, 50.0, 500.0, shift_weight=weights)
    assert result.remaining_hz.value == pytest.approx(float(solved.fun), abs=1e-3)


@given(errors=ERRORS, moved_hz=st.floats(-3000.0, 3000.0))
def test_a_pointer_slid_beforehand_changes_the_shift_alone(errors: list[float], moved_hz: float) -> None:
    plain = judge_dial(MARKS_HZ, errors, 50.0, 500.0)
    moved = judge_dial(MARKS_HZ, np.array(errors) + moved_hz, 50.0, 500.0)
    assert moved.shift_hz.value - plain.shift_hz.value == pytest.approx(moved_hz, abs=1e-6)
    assert moved.left_hz == pytest.approx(plain.left_hz, abs=1e-6)
    assert moved.slope_hz.value == pytest.approx(plain.slope_hz.value, abs=1e-6)


@given(slope_hz=st.floats(-4000.0, 4000.0), bend_hz=st.floats(-4000.0, 4000.0), shift_hz=st.floats(-4000.0, 4000.0))
def test_slope_and_high_end_bend_are_told_apart(slope_hz: float, bend_hz: float, shift_hz: float) -> None:
    # Lagrange's parabola through (0, a), (1/2, a + s/2), (1, a + s + b): a straight lower half, a bend at the end.
    share = (MARKS_HZ - MARKS_HZ[0]) / (MARKS_HZ[-1] - MARKS_HZ[0])
    low, middle, high = shift_hz, shift_hz + slope_hz / 2.0, shift_hz + slope_hz + bend_hz
    error = (
        low * (2.0 * share - 1.0) * (share - 1.0)
        + middle * 4.0 * share * (1.0 - share)
        + high * share * (2.0 * share - 1.0)
    )
    result = judge_dial(MARKS_HZ, error, 50.0, 500.0)
    assert result.bend_hz is not None
    assert result.slope_hz.value == pytest.approx(slope_hz, abs=1e-3)
    assert result.bend_hz.value == pytest.approx(bend_hz, abs=1e-3)


@pytest.mark.parametrize(
    ("errors", "suffices"),
    [
        ([100.0, 0.0, -100.0], Suffices.NOTHING_NEEDED),
        ([900.0, 800.0, 700.0], Suffices.YES),
        ([900.0, 0.0, -900.0], Suffices.NO),
        ([500.0, 0.0, -480.0], Suffices.TOO_CLOSE),
    ],
)
def test_whether_the_pointer_suffices_takes_the_uncertainty_into_account(
    errors: list[float], suffices: Suffices
) -> None:
    result = judge_dial([3.5e6, 3.75e6, 4.0e6], errors, 20.0, 500.0)
    assert result.suffices is suffices
    assert result.text.endswith(".")


@pytest.mark.parametrize(
    ("errors", "says"),
    [([-2000.0, 0.0, 2000.0], "slug or padder first"), ([0.0, 0.0, 2000.0], "trimmer first")],
)
def test_where_the_pointer_does_not_suffice_the_shape_of_the_errors_names_the_adjuster(
    errors: list[float], says: str
) -> None:
    # Slope is the inductance's, a high-end bend the trimmer's: common practice, no source.
    assert says in judge_dial([3.5e6, 3.75e6, 4.0e6], errors, 20.0, 500.0).text


def test_errors_known_too_poorly_for_the_limit_are_said_to_be_so() -> None:
    result = judge_dial([3.5e6, 4.0e6], [100.0, 0.0], 400.0, 500.0)
    assert [doubt.name for doubt in result.doubts] == [DoubtName.UNCERTAIN]
    assert result.bend_hz is None


def test_the_shifts_uncertainty_covers_the_truth() -> None:
    rng = np.random.default_rng(12)
    true = np.array([-900.0, -300.0, 100.0, 200.0, 300.0, 1500.0])
    parabola = np.polynomial.Polynomial.fit(MARKS_HZ, true, 2)
    slope = 2.0 * (parabola(3.75e6) - parabola(3.5e6))
    inside, slope_inside = [], []
    for _ in range(2000):
        result = judge_dial(MARKS_HZ, true + rng.normal(0.0, 50.0, 6), 50.0, 500.0)
        inside.append(abs(result.shift_hz.value - 300.0) <= 1.96 * result.shift_hz.sigma)
        slope_inside.append(abs(result.slope_hz.value - slope) <= 1.96 * result.slope_hz.sigma)
    assert np.mean(inside) == pytest.approx(0.95, abs=0.02)
    assert np.mean(slope_inside) == pytest.approx(0.95, abs=0.02)


@pytest.mark.parametrize(
    ("marks", "errors", "sigma", "says"),
    [
        ([3.5e6, 4e6], [1.0], 1.0, "one error for each"),
        ([3.5e6, 3.5e6], [1.0, 2.0], 1.0, "two different marks"),
        ([3.5e6, 4e6], [1.0, math.nan], 1.0, "not a number"),
        ([3.5e6, 4e6], [1.0, 2.0], -1.0, "negative"),
    ],
)
def test_marks_that_cannot_be_judged_are_refused(
    marks: list[float], errors: list[float], sigma: float, says: str
) -> None:
    with pytest.raises(ValueError, match=says):
        judge_dial(marks, errors, sigma, 500.0)
