"""What is heard in records whose truth is known.

The bound is that of one tone in white noise (Kay, Fundamentals of Statistical Signal Processing: Estimation Theory,
1993, eq. 3.41).
"""

import numpy as np
import pytest

from sequences.numerics.figures import DoubtName
from sequences.numerics.sound.hearing import Heard, hear
from tests.sequences.numerics.sound.records import bound_hz, hum, noise, tone

RATE_HZ = 8000.0
TWO_SIDED_95 = 1.959963984540054


def _names(heard: Heard) -> set[DoubtName]:
    return {doubt.name for doubt in heard.doubts}


def _errors(trials: int, length_s: float, *, with_hum: bool) -> tuple[np.ndarray, np.ndarray]:
    """Give the errors of the frequency, over the bound, and over the sigma that was told."""
    dice = np.random.default_rng(7)
    of_bound, of_sigma = [], []
    for _ in range(trials):
        truth_hz = float(dice.uniform(330.0, 3000.0))
        samples = tone(truth_hz, 0.1, length_s, RATE_HZ, dice) + noise(0.1, 14.0, length_s, RATE_HZ, dice)
        if with_hum:
            samples += hum(50.03, 1.0, length_s, RATE_HZ, dice)
        figure = hear(samples, RATE_HZ, with_edge=False).tone_hz
        assert figure is not None
        of_bound.append((figure.value - truth_hz) / bound_hz(14.0, length_s, RATE_HZ))
        of_sigma.append((figure.value - truth_hz) / figure.sigma)
    return np.array(of_bound), np.array(of_sigma)


def test_a_tone_is_known_as_well_as_any_estimator_can() -> None:
    of_bound, of_sigma = _errors(80, 0.25, with_hum=False)
    assert np.sqrt(np.mean(of_bound**2)) < 1.2
    assert 0.90 <= np.mean(np.abs(of_sigma) < TWO_SIDED_95) <= 0.99  # 95 %, give or take the sample's own scatter


def test_hum_twenty_decibels_above_the_tone_hardly_matters() -> None:
    of_bound, _ = _errors(12, 1.0, with_hum=True)
    assert np.sqrt(np.mean(of_bound**2)) < 1.5


def test_levels_are_those_of_aes17() -> None:
    """AES17: a sine with peaks at full scale is 0 dBFS. A tenth of it is -20 dBFS, and noise 14 dB below that -34."""
    dice = np.random.default_rng(1)
    samples = tone(1000.5, 0.1, 1.0, 48000.0, dice) + noise(0.1, 14.0, 1.0, 48000.0, dice)
    heard = hear(samples, 48000.0)
    assert heard.tone_level_dbfs is not None
    assert heard.noise_level_dbfs is not None
    assert heard.tone_level_dbfs.value == pytest.approx(-20.0, abs=4 * heard.tone_level_dbfs.sigma)
    assert heard.noise_level_dbfs == pytest.approx(-34.0, abs=0.1)
    assert heard.sinad_db == pytest.approx(10 * np.log10(1 + 10**1.4), abs=0.1)
    assert heard.noise_edge_hz is None  # white to the end
    assert heard.doubts == ()


def test_a_level_step_of_twenty_decibels_is_seen_under_noise_and_hum() -> None:
    dice = np.random.default_rng(2)
    levels = []
    for peak in (0.05, 0.005):
        samples = tone(801.3, peak, 1.0, RATE_HZ, dice) + noise(0.005, 6.0, 1.0, RATE_HZ, dice)
        heard = hear(samples + hum(49.98, 0.2, 1.0, RATE_HZ, dice), RATE_HZ, with_edge=False)
        assert heard.tone_level_dbfs is not None
        levels.append(heard.tone_level_dbfs.value)
    assert levels[0] - levels[1] == pytest.approx(20.0, abs=0.3)


def test_noise_alone_is_no_tone() -> None:
    dice = np.random.default_rng(3)
    named = [hear(dice.standard_normal(4000), RATE_HZ, with_edge=False) for _ in range(30)]
    assert sum(heard.tone_hz is not None for heard in named) == 0
    assert _names(named[0]) == {DoubtName.NO_TONE}


def test_hum_alone_is_no_tone_and_is_named() -> None:
    dice = np.random.default_rng(4)
    heard = hear(hum(60.02, 0.3, 1.0, RATE_HZ, dice) + noise(0.1, 10.0, 1.0, RATE_HZ, dice), RATE_HZ)
    assert heard.tone_hz is None
    assert heard.hum_hz == pytest.approx(60.02, abs=0.01)
    assert "hum at 60 Hz" in heard.doubts[0].text


def test_a_second_tone_is_named_and_does_not_pull_the_first() -> None:
    dice = np.random.default_rng(5)
    samples = tone(800.0, 0.2, 1.0, RATE_HZ, dice) + tone(811.0, 0.1, 1.0, RATE_HZ, dice)
    heard = hear(samples + noise(0.2, 20.0, 1.0, RATE_HZ, dice), RATE_HZ)
    assert heard.tone_hz is not None
    assert heard.tone_hz.value == pytest.approx(800.0, abs=4 * heard.tone_hz.sigma)
    assert heard.second_tone_hz == pytest.approx(811.0, abs=0.05)
    assert DoubtName.SECOND_TONE in _names(heard)


def test_a_harmonic_of_the_tone_is_no_second_tone() -> None:
    dice = np.random.default_rng(6)
    samples = tone(800.0, 0.2, 1.0, RATE_HZ, dice) + tone(1600.0, 0.1, 1.0, RATE_HZ, dice)
    assert hear(samples + noise(0.2, 20.0, 1.0, RATE_HZ, dice), RATE_HZ).second_tone_hz is None


@pytest.mark.parametrize("drift_hz_per_s", [2.0, -15.0, 80.0])
def test_a_drifting_tone_is_named_and_given_at_its_middle(drift_hz_per_s: float) -> None:
    dice = np.random.default_rng(8)
    samples = tone(900.0, 0.2, 1.0, RATE_HZ, dice, drift_hz_per_s) + noise(0.2, 14.0, 1.0, RATE_HZ, dice)
    heard = hear(samples, RATE_HZ)
    assert heard.tone_hz is not None
    assert heard.drift_hz_per_s is not None
    assert heard.tone_hz.value == pytest.approx(900.0, abs=0.01)
    assert heard.drift_hz_per_s.value == pytest.approx(drift_hz_per_s, abs=0.1)
    assert DoubtName.TONE_DRIFT in _names(heard)


def test_a_tone_on_a_harmonic_of_the_hum_is_told() -> None:
    dice = np.random.default_rng(9)
    samples = tone(800.3, 0.2, 1.0, RATE_HZ, dice) + noise(0.2, 14.0, 1.0, RATE_HZ, dice)
    heard = hear(samples + hum(50.0, 0.2, 1.0, RATE_HZ, dice), RATE_HZ)
    assert heard.tone_hz is not None
    assert heard.tone_hz.value == pytest.approx(800.3, abs=0.02)
    assert DoubtName.ON_HUM in _names(heard)


@pytest.mark.parametrize("top", [1.0, 0.5])
def test_clipping_is_named_wherever_the_top_is(top: float) -> None:
    dice = np.random.default_rng(10)
    samples = tone(700.0, 1.5 * top, 1.0, RATE_HZ, dice) + noise(0.1, 10.0, 1.0, RATE_HZ, dice)
    heard = hear(np.clip(samples, -top, top), RATE_HZ)
    assert heard.clipped
    assert DoubtName.CLIPPED in _names(heard)
    assert heard.tone_hz is not None
    assert heard.tone_hz.value == pytest.approx(700.0, abs=0.02)


@pytest.mark.parametrize("bits", [8, 16])
@pytest.mark.parametrize("peak", [0.02, 0.9])
def test_a_tone_in_few_steps_is_not_clipped(bits: int, peak: float) -> None:
    steps = 2 ** (bits - 1)
    samples = np.round(tone(87.0, peak, 1.0, RATE_HZ, np.random.default_rng(11)) * steps) / steps
    assert not hear(samples, RATE_HZ).clipped


def test_only_the_tone_between_two_frequencies_is_listened_to() -> None:
    dice = np.random.default_rng(12)
    samples = tone(500.0, 0.5, 1.0, RATE_HZ, dice) + tone(1500.0, 0.05, 1.0, RATE_HZ, dice)
    heard = hear(samples + noise(0.05, 20.0, 1.0, RATE_HZ, dice), RATE_HZ, (1000.0, 2000.0))
    assert heard.tone_hz is not None
    assert heard.tone_hz.value == pytest.approx(1500.0, abs=0.01)
    assert heard.second_tone_hz is None
    assert hear(samples, RATE_HZ, (2000.0, 3000.0)).tone_hz is None


def test_silence_is_told() -> None:
    heard = hear(np.zeros(8000), RATE_HZ)
    assert heard.tone_hz is None
    assert "silent" in heard.doubts[0].text


def test_a_record_too_short_is_refused() -> None:
    with pytest.raises(ValueError, match="at least 256"):
        hear(np.ones(10), RATE_HZ)
