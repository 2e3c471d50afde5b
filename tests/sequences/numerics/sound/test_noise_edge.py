"""The edge of noise from filters of known shape: a Butterworth filter's 3 dB point is its corner, by definition."""

import numpy as np
import pytest
import scipy.signal

from sequences.numerics.sound.noise_edge import noise_edge

RATE_HZ = 12000.0


def _edges(order: int, highest_hz: float, trials: int) -> tuple[np.ndarray, np.ndarray]:
    dice = np.random.default_rng(order)
    sections = scipy.signal.butter(order, (300.0, highest_hz), "bandpass", fs=RATE_HZ, output="sos")
    found = []
    for _ in range(trials):
        samples = scipy.signal.sosfilt(sections, dice.standard_normal(round(10 * RATE_HZ)))
        samples += 0.003 * dice.standard_normal(len(samples))
        figure = noise_edge(samples, RATE_HZ, 0.0, RATE_HZ / 2)
        assert figure is not None
        found.append((figure.value, figure.sigma))
    values, sigmas = np.array(found).T
    return values, sigmas


@pytest.mark.parametrize("highest_hz", [1800.0, 2700.0])
def test_ten_seconds_of_noise_place_its_edge(highest_hz: float) -> None:
    """Sixteen poles, as a crystal filter has: the difference of two such edges is within 10 Hz, one sigma."""
    values, sigmas = _edges(8, highest_hz, 12)
    errors = values - highest_hz
    assert np.sqrt(2 * np.mean(errors**2)) < 10.0
    assert np.mean(sigmas) == pytest.approx(np.std(errors), rel=0.5)


def test_noise_that_is_flat_to_the_end_has_no_edge() -> None:
    assert noise_edge(np.random.default_rng(1).standard_normal(36000), RATE_HZ, 0.0, RATE_HZ / 2) is None


def test_a_short_record_has_no_edge() -> None:
    assert noise_edge(np.random.default_rng(1).standard_normal(1000), RATE_HZ, 0.0, RATE_HZ / 2) is None
