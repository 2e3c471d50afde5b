"""The level for 10 dB signal-plus-noise to noise, of detectors whose noise is known."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sequences.numerics.figures import DoubtName
from sequences.numerics.levels.signal_and_noise import Floats, SignalAndNoise, level_for_ratio

NINE_TIMES_DB = 9.542425094393248
"""10 log10(9): with ten times the power of noise alone, nine parts are signal."""


def readings(noise_dbm: float, law: str, sigma_share: float, seed: int) -> SignalAndNoise:
    """Read a made-up detector from 9 dB below its noise to 18 dB above, four times at each level."""
    powers_dbm = np.concatenate(([-np.inf], noise_dbm + np.arange(-9.0, 18.1, 3.0)))
    total: Floats = 10.0 ** (powers_dbm / 10.0) / 10.0 ** (noise_dbm / 10.0) + 1.0
    volts = {
        "square": total,
        "size": np.sqrt(total),
        # a diode that follows the square of small carriers and the size of large ones
        "diode": total / np.sqrt(1.0 + total / 20.0),
        # a logarithmic gain control on top of it
        "controlled": total / np.sqrt(1.0 + total / 20.0) / (1.0 + total / 300.0) ** 0.2,
    }[law]
    sigma = sigma_share * volts
    noisy = volts + sigma * np.random.default_rng(seed).standard_normal(volts.shape)
    return level_for_ratio(powers_dbm, 1e-3 * noisy, 1e-3 * sigma, 10.0)


@pytest.mark.parametrize("law", ["square", "size", "diode", "controlled"])
def test_the_level_is_nine_times_the_noise_whatever_the_detector_s_law(law: str) -> None:
    """Both are powers (common practice, no source), so that 10 dB is 9.54 dB of signal over noise by arithmetic."""
    found = readings(-107.3, law, 1e-4, seed=1)

    assert found.level_dbm is not None
    assert found.level_dbm.value == pytest.approx(-107.3 + NINE_TIMES_DB, abs=0.1)
    assert found.noise_dbm is not None
    assert found.level_dbm.value - found.noise_dbm.value == pytest.approx(NINE_TIMES_DB)


@pytest.mark.parametrize("law", ["square", "diode"])
def test_its_uncertainty_covers_the_truth(law: str) -> None:
    """Of 60 trials at 3 % noise, 95 % within two sigmas would be 57; fewer than 52 comes once in some hundred times."""
    trials = [readings(-100.0, law, 0.03, seed) for seed in range(60)]
    levels = [one.level_dbm for one in trials if one.level_dbm is not None]

    assert len(levels) == len(trials)
    assert sum(abs(each.value + 100.0 - NINE_TIMES_DB) <= 2.0 * each.sigma for each in levels) >= 52
    assert float(np.median([each.sigma for each in levels])) < 0.5


@settings(max_examples=20, deadline=None)
@given(st.floats(-130.0, -60.0))
def test_where_the_noise_stands_only_shifts_the_figure(noise_dbm: float) -> None:
    found = readings(noise_dbm, "square", 1e-3, seed=3)

    assert found.level_dbm is not None
    assert found.level_dbm.value - noise_dbm == pytest.approx(NINE_TIMES_DB, abs=0.1)


def test_a_meter_that_shows_no_noise_gives_no_figure() -> None:
    powers_dbm = np.array([-math.inf, *np.arange(-110.0, -80.0, 3.0)])
    volts = np.where(np.isfinite(powers_dbm), 10.0 ** (powers_dbm / 10.0), 0.0)

    found = level_for_ratio(powers_dbm, volts, np.full(volts.shape, 1e-12), 10.0)

    assert found.level_dbm is None
    assert [doubt.name for doubt in found.doubts] == [DoubtName.NO_RISE]


def test_what_does_not_add_up_as_powers_do_is_doubted() -> None:
    """A whistle that dies away under the signal: more at the bottom than signal and noise can give."""
    powers_dbm = np.array([-math.inf, *(-100.0 + np.arange(-9.0, 18.1, 3.0))])
    total = 10.0 ** ((powers_dbm + 100.0) / 10.0) + 1.0
    volts = total * (1.0 + 0.4 * np.sin(np.arange(total.size)))

    found = level_for_ratio(powers_dbm, volts, 0.01 * volts, 10.0)

    assert DoubtName.POOR_FIT in [doubt.name for doubt in found.doubts] or found.level_dbm is None
