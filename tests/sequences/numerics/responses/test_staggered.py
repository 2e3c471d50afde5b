"""Cascaded circuits, held to handbook factors and to responses multiplied out here."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from sequences.numerics.figures import Estimate
from sequences.numerics.responses.staggered import loaded_q_of_each, one_circuit_hz, stagger_loss, tilt_shift


@pytest.mark.parametrize(("circuits", "factor"), [(1, 1.0), (2, 0.644), (3, 0.510), (4, 0.435)])
def test_equal_circuits_narrow_as_the_handbooks_say(circuits: int, factor: float) -> None:
    """Bandwidth reduction sqrt(2^(1/n) - 1): Terman, Radio Engineers' Handbook (1943), sec. 3 (from memory)."""
    q = loaded_q_of_each(Estimate(455e3, 10.0), Estimate(455e3 / 100 * factor, 20.0), circuits)

    assert q.value == pytest.approx(100.0, rel=2e-3)
    assert q.sigma == pytest.approx(100.0 * 20.0 / (4550 * factor), rel=0.01)


def test_a_width_of_nothing_has_no_loaded_q() -> None:
    with pytest.raises(ValueError, match="above zero"):
        loaded_q_of_each(Estimate(455e3, 1.0), Estimate(0.0, 1.0), 2)


@given(d=st.floats(0.05, 1.5))
def test_two_circuits_tuned_apart_lose_what_their_product_loses(d: float) -> None:
    """D half-widths to either side: |1 / ((1 + jd)(1 - jd))| at the middle."""
    product = 1 / abs((1 + 1j * d) * (1 - 1j * d))

    assert stagger_loss(Estimate(d, 0.0)).value == pytest.approx(-20 * math.log10(product), abs=1e-9)


def test_the_loss_of_circuits_that_may_be_apart_is_known_as_well_as_the_coupling() -> None:
    loss = stagger_loss(Estimate(1.0, 0.1))

    assert loss.value == pytest.approx(6.02, abs=0.01)
    assert loss.sigma == pytest.approx(20 * math.log10((1 + 1.1**2) / 2), rel=0.06)


@pytest.mark.parametrize("circuits", [1, 2, 3])
def test_a_tilt_moves_the_centre_as_the_tilted_curve_itself_does(circuits: int) -> None:
    half = math.sqrt(2 ** (1 / circuits) - 1)
    tilt_db = 0.3

    def level_db(x: float) -> float:
        return -10 * circuits * math.log10(1 + x * x) + tilt_db * x / (2 * half)

    top_db = max(level_db(x / 1e4) for x in range(-2000, 2000))
    lower = brentq(lambda x: level_db(x) - top_db + 10 * math.log10(2), -3 * half, 0)
    upper = brentq(lambda x: level_db(x) - top_db + 10 * math.log10(2), 0, 3 * half)

    assert tilt_shift(2 * half, tilt_db, circuits) == pytest.approx((lower + upper) / 2, rel=0.02)


def test_one_of_two_circuits_moves_the_centre_by_half() -> None:
    actual = one_circuit_hz(14.25e6, Estimate(-100e3, 2e3), 2)

    assert (actual.value, actual.sigma) == (14.05e6, 4e3)
