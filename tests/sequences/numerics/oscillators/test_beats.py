"""An oscillator's signed error from beat notes."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequences.numerics.figures import DoubtName, Estimate, mean_of
from sequences.numerics.oscillators.beats import offset_beat
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


def test_an_offset_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="offset"):
        offset_beat(Estimate(1.0, 0.1), Estimate(1.0, 0.1), 0.0)


@pytest.mark.parametrize("repeats", [2, 3, 4])
def test_the_error_from_few_noisy_counts_a_side_covers_the_truth(repeats: int) -> None:
    """Noise drawn by numpy, 3 Hz a count, far above what counting leaves; each side's mean from its own repeats."""
    rng = np.random.default_rng(repeats)
    inside = []
    for _ in range(2000):
        above, below = (mean_of(list(rng.normal(beat_hz, 3.0, repeats)), 0.1) for beat_hz in (980.0, 1020.0))
        result = offset_beat(above, below, 1000.0)
        if result.error_hz is not None:
            inside.append(abs(result.error_hz.value - 20.0) <= 1.96 * result.error_hz.sigma)
    assert len(inside) >= 0.97 * 2000
    assert 0.93 <= np.mean(inside) <= 0.985


def test_the_check_is_as_uncertain_as_the_error() -> None:
    result = offset_beat(Estimate(1000.0, 3.0), Estimate(1002.0, 4.0), 1000.0)
    assert result.self_check_hz.sigma == pytest.approx(2.5)
    assert result.self_check_hz.value == pytest.approx(1.0)
