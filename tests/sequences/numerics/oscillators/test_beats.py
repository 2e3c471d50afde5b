"""An oscillator's signed error from beat notes."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequences.numerics.figures import DoubtName, Estimate
from sequences.numerics.oscillators.beats import fit_v, mean_beat, offset_beat, split_edges
from sequences.numerics.oscillators.counting import count_sigma_hz


def beat(source_hz: float, oscillator_hz: float, sigma_hz: float = 0.4) -> Estimate:
    """Hear the difference of two frequencies."""
    return Estimate(abs(source_hz - oscillator_hz), sigma_hz)


@given(error_hz=st.floats(-990.0, 990.0))
def test_two_offset_beats_give_the_error_with_its_sign_and_no_dead_zone(error_hz: float) -> None:
    oscillator_hz = 60_000.0 + error_hz
    result = offset_beat(beat(61_000.0, oscillator_hz), beat(59_000.0, oscillator_hz), 1000.0)
    assert result.doubts == ()
    assert result.error_hz is not None
    assert result.error_hz.value == pytest.approx(error_hz, abs=1e-6)
    assert result.self_check_hz.value == pytest.approx(0.0, abs=1e-6)


@given(error_hz=st.floats(-990.0, 990.0))
def test_a_conversion_that_turns_the_spectrum_over_exchanges_the_beats(error_hz: float) -> None:
    # The source at nominal + offset arrives at the beat oscillator at nominal - offset.
    oscillator_hz = 60_000.0 + error_hz
    above, below = beat(59_000.0, oscillator_hz), beat(61_000.0, oscillator_hz)
    result = offset_beat(above, below, 1000.0, inverted=True)
    assert result.inverted
    assert result.error_hz is not None
    assert result.error_hz.value == pytest.approx(error_hz, abs=1e-6)


def test_stepping_the_source_up_raises_the_beat_when_the_source_is_above_the_oscillator() -> None:
    # The sense of the beat as used by ear; so the larger beat above nominal means the oscillator is low.
    result = offset_beat(Estimate(1010.0, 0.4), Estimate(990.0, 0.4), 1000.0)
    assert result.error_hz is not None
    assert result.error_hz.value == -10.0


@pytest.mark.parametrize("error_hz", [-2500.0, 1800.0])
def test_an_oscillator_further_off_than_the_offset_is_still_found_and_doubted(error_hz: float) -> None:
    oscillator_hz = 60_000.0 + error_hz
    result = offset_beat(beat(61_000.0, oscillator_hz), beat(59_000.0, oscillator_hz), 1000.0)
    assert result.error_hz is not None
    assert result.error_hz.value == pytest.approx(error_hz)
    assert [doubt.name for doubt in result.doubts] == [DoubtName.OFFSET_TOO_SMALL]


@given(moved_hz=st.floats(5.0, 300.0), error_hz=st.floats(-600.0, 600.0))
def test_an_oscillator_that_moves_between_the_counts_fails_the_self_check(moved_hz: float, error_hz: float) -> None:
    above = beat(61_000.0, 60_000.0 + error_hz)
    below = beat(59_000.0, 60_000.0 + error_hz + moved_hz)
    result = offset_beat(above, below, 1000.0)
    assert result.error_hz is None
    assert [doubt.name for doubt in result.doubts] == [DoubtName.SELF_CHECK]
    assert "2 kHz" in result.doubts[0].text


def test_a_count_that_failed_is_no_error() -> None:
    result = offset_beat(Estimate(math.nan, 0.4), Estimate(990.0, 0.4), 1000.0)
    assert result.error_hz is None
    assert [doubt.name for doubt in result.doubts] == [DoubtName.NOT_A_NUMBER]


def test_two_counts_of_2_hz_each_give_the_error_to_1_4_hz() -> None:
    # Two settings of 2 Hz: sqrt(2^2 + 2^2) / 2 = 1.4 Hz.
    result = offset_beat(Estimate(1000.0, 2.0), Estimate(1000.0, 2.0), 1000.0)
    assert result.error_hz is not None
    assert result.error_hz.sigma == pytest.approx(1.414, abs=0.001)


def test_the_offset_beats_uncertainty_covers_the_truth_with_a_direct_counter() -> None:
    rng = np.random.default_rng(6)
    gate_s, offset_hz, inside = 1.0, 1000.0, []
    for _ in range(2000):
        error_hz = float(rng.uniform(-300.0, 300.0))
        beats = np.array([offset_hz - error_hz, offset_hz + error_hz])
        counted = np.floor(beats * gate_s + rng.uniform(0.0, 1.0, 2)) / gate_s
        sigma_hz = count_sigma_hz(1000.0, gate_s)
        result = offset_beat(Estimate(counted[0], sigma_hz), Estimate(counted[1], sigma_hz), offset_hz)
        assert result.error_hz is not None
        inside.append(abs(result.error_hz.value - error_hz) <= 1.96 * result.error_hz.sigma)
    assert 0.93 <= np.mean(inside) <= 0.97


def test_the_sources_own_error_is_carried_through() -> None:
    result = offset_beat(Estimate(1000.0, 0.3), Estimate(1000.0, 0.3), 1000.0, source_sigma_hz=5.0)
    assert result.error_hz is not None
    assert result.error_hz.sigma == pytest.approx(5.0, abs=0.01)


def test_repeats_that_scatter_widen_a_beat_and_steady_ones_never_beat_the_counter() -> None:
    assert mean_beat([1000.0, 1000.0, 1000.0], 0.4).sigma == pytest.approx(0.4)
    assert mean_beat([990.0, 1000.0, 1010.0], 0.4).sigma == pytest.approx(5.787, abs=0.001)


def test_an_offset_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="offset"):
        offset_beat(Estimate(1.0, 0.1), Estimate(1.0, 0.1), 0.0)


@given(
    f0_hz=st.floats(-400.0, 400.0),
    order=st.permutations([-500.0, -300.0, -150.0, 120.0, 350.0, 500.0]),
    shift_hz=st.floats(-1e5, 1e5),
)
def test_a_v_of_beats_finds_zero_beat_wherever_it_lies_and_in_any_order(
    f0_hz: float, order: list[float], shift_hz: float
) -> None:
    source_hz = np.array(order) + 60_000.0 + shift_hz
    zero_hz = 60_000.0 + shift_hz + f0_hz
    result = fit_v(source_hz, np.abs(source_hz - zero_hz), 1.0)
    assert result.source_hz is not None
    assert result.source_hz.value == pytest.approx(zero_hz, abs=1e-4)


@pytest.mark.parametrize("told", [True, False])
def test_the_vs_uncertainty_covers_the_truth(told: bool) -> None:
    rng = np.random.default_rng(8)
    source_hz = np.linspace(59_600.0, 60_400.0, 30)
    inside = []
    for _ in range(1000):
        zero_hz = float(rng.uniform(59_800.0, 60_200.0))
        beats = np.abs(source_hz - zero_hz)
        heard = beats > 30.0
        noisy = beats[heard] + rng.normal(0.0, 5.0, int(heard.sum()))
        result = fit_v(source_hz[heard], noisy, 5.0 if told else None)
        assert result.source_hz is not None
        inside.append(abs(result.source_hz.value - zero_hz) <= 1.96 * result.source_hz.sigma)
    assert 0.93 <= np.mean(inside) <= 0.97


@pytest.mark.parametrize(("zero_hz", "way"), [(60_700.0, "upwards"), (59_200.0, "downwards")])
def test_a_v_that_does_not_cross_zero_gives_no_number_and_says_which_way_to_go(zero_hz: float, way: str) -> None:
    source_hz = np.linspace(59_600.0, 60_400.0, 9)
    result = fit_v(source_hz, np.abs(source_hz - zero_hz), 1.0)
    assert result.source_hz is None
    assert [doubt.name for doubt in result.doubts] == [DoubtName.NO_CROSSING]
    assert result.doubts[0].text.endswith(f"go on {way}.")


def test_beats_that_make_no_v_are_refused() -> None:
    source_hz = np.linspace(59_600.0, 60_400.0, 9)
    hum = fit_v(source_hz, np.full(9, 100.0), 1.0)
    assert [doubt.name for doubt in hum.doubts] == [DoubtName.POOR_FIT]
    second_harmonic = fit_v(source_hz, 2.0 * np.abs(source_hz - 60_010.0))
    assert [doubt.name for doubt in second_harmonic.doubts] == [DoubtName.POOR_FIT]


def test_one_beat_makes_no_v() -> None:
    assert [doubt.name for doubt in fit_v([60e3], [10.0], 1.0).doubts] == [DoubtName.TOO_FEW_READINGS]
    with pytest.raises(ValueError, match="one beat for each"):
        fit_v([60e3, 61e3], [10.0], 1.0)


def test_zero_beat_lies_midway_between_the_two_just_audible_edges() -> None:
    # Splitting the difference between the two sides of zero beat: common practice, no source.
    result = split_edges([59_940.0, 59_944.0], [60_060.0, 60_064.0], 2.0)
    assert result.zero_hz is not None
    assert result.silent_zone_hz is not None
    assert result.zero_hz.value == pytest.approx(60_002.0)
    assert result.silent_zone_hz.value == pytest.approx(120.0)


def test_the_middle_of_the_edges_is_as_sure_as_stated() -> None:
    rng = np.random.default_rng(9)
    lower = 59_940.0 + rng.normal(0.0, 4.0, 4000)
    upper = 60_060.0 + rng.normal(0.0, 4.0, 4000)
    results = [split_edges(low, high, 4.0).zero_hz for low, high in zip(lower, upper, strict=True)]
    off = [abs(zero.value - 60_000.0) / zero.sigma for zero in results if zero is not None]
    assert np.mean(np.array(off) <= 1.96) == pytest.approx(0.95, abs=0.01)


def test_edges_in_the_wrong_order_are_refused() -> None:
    result = split_edges(60_060.0, 59_940.0, 2.0)
    assert result.zero_hz is None
    assert [doubt.name for doubt in result.doubts] == [DoubtName.EDGES_REVERSED]
    with pytest.raises(ValueError, match="missing"):
        split_edges([], 60_060.0, 2.0)
