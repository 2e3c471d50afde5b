"""By how much a part has drifted, from a frequency."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.part_drift import drift_behind


@pytest.mark.parametrize(
    ("capacitance_percent", "frequency_percent"),
    [
        (0.1, -0.04996),
        (1.0, -0.4963),
        (5.0, -2.410),
        (10.0, -4.654),
        (-1.0, 0.5038),
        (-5.0, 2.598),
        (-10.0, 5.409),
    ],
)
def test_exact_changes_of_frequency_with_capacitance(capacitance_percent: float, frequency_percent: float) -> None:
    # f is as 1/sqrt(LC), Thomson's formula; figures computed independently.
    drift = drift_behind(455e3, Estimate(455e3 * (1.0 + frequency_percent / 100.0), 0.0))
    assert drift.share.value * 100.0 == pytest.approx(capacitance_percent, abs=2e-3)


@given(share=st.floats(-0.3, 0.5), total_pf=st.floats(10.0, 1000.0))
def test_the_drift_is_given_in_farads_where_the_total_is_known(share: float, total_pf: float) -> None:
    drift = drift_behind(1e6, Estimate(1e6 / (1.0 + share) ** 0.5, 0.0), total_pf * 1e-12)
    assert drift.change_f is not None
    assert drift.change_f.value == pytest.approx(share * total_pf * 1e-12, abs=1e-18)


def test_the_uncertainty_of_the_frequency_is_carried_through() -> None:
    rng = np.random.default_rng(51)
    actual = 449e3 + rng.normal(0.0, 200.0, 20_000)
    scatter = np.std((455e3 / actual) ** 2)
    assert drift_behind(455e3, Estimate(449e3, 200.0)).share.sigma == pytest.approx(scatter, rel=0.03)


def test_the_sentence_names_how_much_and_which_way() -> None:
    drift = drift_behind(470e3, Estimate(460e3, 100.0), 200e-12)
    assert "4.4" in drift.text
    assert "more capacitance" in drift.text
    assert "pF" in drift.text
    assert "no part" in drift_behind(470e3, Estimate(470.05e3, 100.0)).text


def test_frequencies_of_nothing_are_refused() -> None:
    with pytest.raises(ValueError, match="above zero"):
        drift_behind(470e3, Estimate(0.0, 1.0))


def test_a_drift_is_told_from_two_sigmas_on() -> None:
    # 1 part in 1000 of frequency is 2 in 1000 of capacitance; known to 0.4 in 1000 of frequency it is 2.5 sigmas.
    assert "no part" not in drift_behind(1e6, Estimate(1e6 - 1e3, 400.0)).text
    assert "no part" in drift_behind(1e6, Estimate(1e6 - 1e3, 600.0)).text
