"""Step and fit: equal nudges through a peak, and how many to go back."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from sequences.numerics.adjusters.step_and_fit import GoOn, fit_steps
from sequences.numerics.figures import DoubtName

NUDGES = np.arange(0.0, 10.0)


def coupled_can(
    nudges: NDArray[np.float64], *, other: float, coupling: float, half_width: float
) -> NDArray[np.float64]:
    """Level of two coupled circuits at one frequency as one slug turns: -20 log10 |(1 + j a)(1 + j b) + kQ^2|.

    Aiken, Two-Mesh Tuned Coupled Circuit Filters, Proc. IRE 25 (1937) (from memory).
    """
    transfer = (1.0 + 1j * nudges / half_width) * (1.0 + 1j * other) + coupling**2
    level_db: NDArray[np.float64] = -20.0 * np.log10(np.abs(transfer))
    return level_db


@pytest.mark.parametrize(("other", "coupling"), [(0.0, 0.5), (0.0, 1.0), (0.7, 0.8), (-1.2, 1.5)])
def test_a_cans_slug_peaks_where_the_coupled_circuits_say_however_the_other_slug_stands(
    other: float, coupling: float
) -> None:
    fine = np.linspace(-30.0, 30.0, 60_001)
    truth = float(fine[np.argmax(coupled_can(fine, other=other, coupling=coupling, half_width=3.0))])
    position = truth + np.linspace(-5.0, 6.0, 12)
    result = fit_steps(position, coupled_can(position, other=other, coupling=coupling, half_width=3.0), 0.01)
    assert result.peak_position is not None
    assert result.peak_position.value == pytest.approx(truth, abs=0.002)
    assert result.go_back is not None
    assert result.go_back.value == pytest.approx(6.0, abs=0.002)
    assert "Go back 6 nudges" in result.text


def test_the_answer_is_said_in_quarter_nudges() -> None:
    result = fit_steps(NUDGES, -10.0 * np.log10(1.0 + ((NUDGES - 6.52) / 3.0) ** 2), 0.05)
    assert "Go back 2.5 nudges" in result.text


def test_an_adjuster_left_on_the_peak_stays_there() -> None:
    position = np.array([4.0, 3.0, 2.0, 1.0, 0.0, 1.0, 2.0])
    result = fit_steps(position, -10.0 * np.log10(1.0 + ((position - 2.03) / 2.0) ** 2), 0.05)
    assert "leave it there" in result.text


def test_the_gain_over_the_first_reading_is_told() -> None:
    # Half power lies one half-width from the peak: 3.0103 dB.
    result = fit_steps(NUDGES, -10.0 * np.log10(1.0 + ((NUDGES - 3.0) / 3.0) ** 2), 0.05)
    assert result.gain_db is not None
    assert result.gain_db.value == pytest.approx(3.0103, abs=1e-4)


@pytest.mark.parametrize("told", [True, False])
@pytest.mark.parametrize("noise_db", [0.05, 0.2])
def test_95_of_100_intervals_cover_the_peak(noise_db: float, told: bool) -> None:
    rng = np.random.default_rng(16)
    inside = []
    for _ in range(800):
        peak, width = rng.uniform(3.0, 6.0), rng.uniform(2.0, 5.0)
        level = -10.0 * np.log10(1.0 + ((NUDGES - peak) / width) ** 2) + rng.normal(0.0, noise_db, NUDGES.size)
        result = fit_steps(NUDGES, level, noise_db if told else None)
        if result.peak_position is not None:
            inside.append(abs(result.peak_position.value - peak) <= 1.96 * result.peak_position.sigma)
    assert len(inside) > 760
    # Somewhat more than 95 % here, where the travel is straight and the fit need not believe it.
    assert 0.93 <= np.mean(inside) <= 0.985


@given(shift=st.floats(-50.0, 50.0), scale=st.floats(0.2, 20.0), level_db=st.floats(-100.0, 30.0), mirror=st.booleans())
def test_counting_otherwise_or_more_gain_moves_only_what_it_should(
    shift: float, scale: float, level_db: float, mirror: bool
) -> None:
    rng = np.random.default_rng(17)
    level = -10.0 * np.log10(1.0 + ((NUDGES - 5.5) / 3.0) ** 2) + rng.normal(0.0, 0.05, NUDGES.size)
    sense = -scale if mirror else scale
    plain = fit_steps(NUDGES, level, 0.05)
    other = fit_steps(shift + sense * NUDGES, level + level_db, 0.05)
    assert plain.go_back is not None
    assert other.go_back is not None
    assert other.go_back.value == pytest.approx(sense * plain.go_back.value, abs=1e-3 * scale)
    assert other.go_back.sigma == pytest.approx(scale * plain.go_back.sigma, rel=1e-2)


@pytest.mark.parametrize(
    ("peak", "go_on"), [(14.0, GoOn.SAME_WAY), (8.9, GoOn.SAME_WAY), (-3.0, GoOn.OTHER_WAY), (0.1, GoOn.OTHER_WAY)]
)
def test_a_peak_not_passed_is_refused_and_says_which_way_to_go_on(peak: float, go_on: GoOn) -> None:
    rng = np.random.default_rng(18)
    level = -10.0 * np.log10(1.0 + ((NUDGES - peak) / 4.0) ** 2) + rng.normal(0.0, 0.1, NUDGES.size)
    for position in (NUDGES, -NUDGES):
        result = fit_steps(position, level, 0.1)
        assert result.go_back is None
        assert [doubt.name for doubt in result.doubts] == [DoubtName.NOT_BRACKETED]
        assert result.go_on is go_on


@pytest.mark.parametrize("told", [True, False])
def test_an_adjuster_that_does_nothing_is_never_given_a_peak(told: bool) -> None:
    rng = np.random.default_rng(19)
    for _ in range(300):
        result = fit_steps(NUDGES, rng.normal(0.0, 0.2, NUDGES.size), 0.2 if told else None)
        assert result.peak_position is None


def test_a_dead_flat_level_is_said_to_be_so() -> None:
    result = fit_steps(NUDGES, np.full(10, -20.0))
    assert [doubt.name for doubt in result.doubts] == [DoubtName.NO_RISE]
    assert "seized" in result.text


def test_levels_that_follow_no_single_peak_are_refused() -> None:
    level = -10.0 * np.log10(1.0 + (NUDGES - 2.0) ** 2) + 12.0 * np.exp(-((NUDGES - 6.0) ** 2))
    result = fit_steps(NUDGES, level, 0.1)
    assert [doubt.name for doubt in result.doubts] == [DoubtName.POOR_FIT]


def test_too_few_positions_are_refused_and_a_bad_level_left_out() -> None:
    result = fit_steps([0.0, 1.0, 2.0, 3.0], [-3.0, -1.0, -1.0, math.nan], 0.1)
    assert [doubt.name for doubt in result.doubts] == [DoubtName.TOO_FEW_READINGS]
    assert np.isnan(result.level_db([1.0])).all()
    with pytest.raises(ValueError, match="one level for each"):
        fit_steps([0.0, 1.0], [0.0])


@pytest.mark.parametrize("told", [True, False])
@pytest.mark.parametrize("bend", [-0.02, 0.0, 0.02])
def test_a_travel_that_is_not_quite_even_is_allowed_for(bend: float, told: bool) -> None:
    """Each nudge is worth 2 % more (or less) than the last: reactance x + bend x^2 / 2, level as a resonance."""
    rng = np.random.default_rng([round(100 * bend + 5), told])
    inside, sigmas = [], []
    for _ in range(120):
        position, peak, width = np.arange(13.0), rng.uniform(4.0, 8.0), rng.uniform(2.0, 4.0)
        travel, at_peak = position + 0.5 * bend * position**2, peak + 0.5 * bend * peak**2
        detuning = (travel - at_peak) / (width * (1.0 + bend * peak))
        level = -10.0 * np.log10(1.0 + detuning**2) + rng.normal(0.0, 0.05, position.size)
        result = fit_steps(position, level, 0.05 if told else None)
        assert result.peak_position is not None
        inside.append(abs(result.peak_position.value - peak) <= 1.96 * result.peak_position.sigma)
        sigmas.append(result.peak_position.sigma)
    assert np.mean(inside) >= 0.89  # 95 % of 120, and three sigmas of that
    assert np.mean(sigmas) < 0.05


def test_the_bend_of_the_travel_is_told_where_the_levels_show_it() -> None:
    position = np.linspace(-6.0, 6.0, 25)
    detuning = np.expm1(0.1 * position / 2.0) / 0.1
    result = fit_steps(position, -10.0 * np.log10(1.0 + detuning**2), 0.001)
    assert result.bend == pytest.approx(0.1, abs=0.002)
    assert result.level_db(position) == pytest.approx(-10.0 * np.log10(1.0 + detuning**2), abs=0.01)
    assert result.gain_db is not None
    assert result.gain_db.value == pytest.approx(10.0 * np.log10(1.0 + detuning[0] ** 2), abs=0.01)
