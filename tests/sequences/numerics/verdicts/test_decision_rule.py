"""The decision rule against JCGM 106:2012, ILAC-G8:09/2019 and trials; the values of both guides from memory."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.decision_rule import (
    Standing,
    Tolerance,
    conformance_probability,
    repeats_to_decide,
    standing,
)


def test_the_guides_diode_conforms_with_92_percent() -> None:
    # JCGM 106:2012, 7.3.3, example: y = -5.47 V, u = 0.05 V, at most -5.40 V: p = F(1.40) = 0.92 (from memory).
    assert conformance_probability(Estimate(-5.47, 0.05), Tolerance(upper=-5.40)) == pytest.approx(0.92, abs=0.005)


@pytest.mark.parametrize(("sigmas", "chance"), [(0.84, 0.80), (1.28, 0.90), (1.64, 0.95), (2.33, 0.99), (3.09, 0.999)])
def test_the_guides_table_of_one_sided_chances_comes_out(sigmas: float, chance: float) -> None:
    # JCGM 106:2012, table 1 (from memory).
    assert conformance_probability(Estimate(-sigmas, 1.0), Tolerance(upper=0.0)) == pytest.approx(chance, abs=1.5e-3)
    assert conformance_probability(Estimate(sigmas, 1.0), Tolerance(lower=0.0)) == pytest.approx(chance, abs=1.5e-3)


@pytest.mark.parametrize(("guard", "false_accept"), [(1.5, 0.0016), (1.0, 0.025), (0.83, 0.05), (0.0, 0.5)])
def test_the_risk_at_a_guard_band_is_no_more_than_the_guideline_says(guard: float, false_accept: float) -> None:
    # ILAC-G8:09/2019, table 1: guard bands as multiples of U = 2 u, and the chance of false acceptance (from memory).
    risk = 1.0 - conformance_probability(Estimate(-2.0 * guard, 1.0), Tolerance(upper=0.0))
    assert 0.5 * false_accept < risk <= 1.001 * false_accept


def test_both_limits_count_where_both_are_near() -> None:
    # F(1) - F(-1) of the normal distribution; with Student's t of one degree of freedom (Cauchy) it is one half.
    assert conformance_probability(Estimate(0.0, 1.0), Tolerance(-1.0, 1.0)) == pytest.approx(0.6827, abs=1e-4)
    assert conformance_probability(Estimate(0.0, 1.0, 1.0), Tolerance(-1.0, 1.0)) == pytest.approx(0.5)


def test_a_figure_is_called_within_or_beyond_from_two_sigmas_on() -> None:
    allowed = Tolerance(-100.0, 100.0)
    figures = [Estimate(value, 10.0) for value in (79.9, 80.2, 100.0, 119.8, 120.1)]
    expected = [Standing.WITHIN, Standing.AT_LIMIT, Standing.AT_LIMIT, Standing.AT_LIMIT, Standing.BEYOND]
    assert [standing(each, allowed) for each in figures] == expected
    assert [standing(Estimate(-each.value, each.sigma), allowed) for each in figures] == expected


@given(value=st.floats(-1e6, 1e6), limit=st.floats(1e-3, 1e3))
def test_a_vague_figure_is_never_decided(value: float, limit: float) -> None:
    vague = Estimate(value, 2.0 * (abs(value) + limit))
    assert standing(vague, Tolerance(-limit, limit)) is Standing.AT_LIMIT


def test_no_number_is_never_decided() -> None:
    for figure in (Estimate(math.nan, 1.0), Estimate(1.0, math.nan), Estimate(1.0, math.inf), Estimate(math.inf, 1.0)):
        for allowed in (Tolerance(-1.0, 1.0), Tolerance(upper=0.0), Tolerance(lower=0.0)):
            assert standing(figure, allowed) is Standing.AT_LIMIT
            assert repeats_to_decide(figure, allowed) is None


def test_a_figure_without_uncertainty_is_judged_as_it_is() -> None:
    assert standing(Estimate(1.0, 0.0), Tolerance(upper=1.0)) is Standing.WITHIN
    assert standing(Estimate(1.001, 0.0), Tolerance(upper=1.0)) is Standing.BEYOND


@pytest.mark.parametrize("true", [-0.8, 0.0, 0.5, 0.999, 1.001, 1.5])
def test_a_wrong_word_is_as_rare_as_the_stated_risk(true: float) -> None:
    rng = np.random.default_rng(round(abs(1000 * true)))
    said = [standing(Estimate(value, 0.2), Tolerance(-1.0, 1.0)) for value in rng.normal(true, 0.2, 4000)]
    wrong = Standing.BEYOND if abs(true) <= 1.0 else Standing.WITHIN
    assert said.count(wrong) / 4000 <= 0.0228 + 3.0 * math.sqrt(0.0228 / 4000)


@pytest.mark.parametrize(("value", "times"), [(90.0, 4), (95.0, 16), (96.0, 25), (96.5, None), (113.0, 3), (85.0, 2)])
def test_so_many_readings_would_decide(value: float, times: int | None) -> None:
    # Two sigmas of the mean against the distance to the limit: n = (2 x 10 / d)^2, rounded up.
    assert repeats_to_decide(Estimate(value, 10.0), Tolerance(upper=100.0)) == times


def test_a_figure_on_its_limit_is_decided_by_no_number_of_readings() -> None:
    assert repeats_to_decide(Estimate(100.0, 10.0), Tolerance(upper=100.0)) is None
    assert repeats_to_decide(Estimate(0.5, 0.4), Tolerance(upper=1.0)) == 3  # half a unit away, not one


def test_a_figure_two_readings_would_decide_takes_two() -> None:
    assert repeats_to_decide(Estimate(85.5, 10.0), Tolerance(upper=100.0)) == 2
