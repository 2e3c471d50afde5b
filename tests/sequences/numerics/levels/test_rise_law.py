"""A law learnt from source steps, and what its uncertainty does to the figures of a fit."""

import math
from collections.abc import Callable

import numpy as np
import pytest

from sequences.numerics.levels.law_uncertainty import widen_by_law
from sequences.numerics.levels.rise_law import RiseLaw
from sequences.numerics.responses.passband import fit_passband

STEPS_DBM = np.tile(np.arange(-40.0, -65.0, -1.5), 2)
QUIET_V = 0.4


def amplitude(power_dbm: np.ndarray) -> np.ndarray:
    """Give volts in 50 ohm at a power in dBm: 0 dBm is 223.607 mV."""
    volts: np.ndarray = 0.223607 * 10 ** (power_dbm / 20)
    return volts


LAWS: dict[str, Callable[[np.ndarray], np.ndarray]] = {
    "linear": lambda power: QUIET_V + 900 * amplitude(power),
    "square": lambda power: QUIET_V + 4e5 * amplitude(power) ** 2,
    "agc": lambda power: QUIET_V - 0.8 * np.log1p(3000 * amplitude(power)),
}


@pytest.mark.parametrize("name", LAWS)
def test_a_law_without_noise_gives_the_power_back(name: str) -> None:
    law = RiseLaw.from_steps(STEPS_DBM, LAWS[name](STEPS_DBM), 1e-7, QUIET_V)

    for power in np.linspace(-41.0, -63.0, 23):
        reading = law.to_level_db(float(LAWS[name](np.array(power))))
        assert reading.level_db == pytest.approx(power, abs=0.02)


@pytest.mark.parametrize("name", LAWS)
def test_the_laws_own_uncertainty_is_honest(name: str) -> None:
    """Over 300 calibrations with 1 % of noise the error of a noiseless reading, in the law's sigmas, is about one."""
    random = np.random.default_rng(20261125)
    pulls = []
    for _ in range(300):
        volts = LAWS[name](STEPS_DBM)
        sigma_v = 0.01 * np.abs(volts - QUIET_V)
        law = RiseLaw.from_steps(STEPS_DBM, volts + random.normal(0, sigma_v), sigma_v, QUIET_V)
        found = law.to_level_db(float(LAWS[name](np.array(-50.0)))).level_db
        assert found is not None
        pulls.append((found + 50.0) / float(law.sigma_db(np.array([-50.0]))[0]))

    assert 0.5 < float(np.sqrt(np.mean(np.square(pulls)))) < 1.4


def test_readings_beyond_the_law_are_refused_and_the_weak_ones_known() -> None:
    law = RiseLaw.from_steps(STEPS_DBM, LAWS["linear"](STEPS_DBM), 1e-6, QUIET_V)

    assert law.to_level_db(QUIET_V).level_db is None
    assert law.is_too_weak(QUIET_V)
    assert law.to_level_db(50.0).level_db is None
    assert not law.is_too_weak(50.0)
    assert law.to_level_db(math.nan).level_db is None


@pytest.mark.parametrize(
    ("volts", "sentence"),
    [
        (np.full(STEPS_DBM.size, QUIET_V), "does not follow the source"),
        (QUIET_V + np.abs(STEPS_DBM + 50.0), "turns back"),
    ],
)
def test_steps_that_make_no_law_are_one_sentence(volts: np.ndarray, sentence: str) -> None:
    with pytest.raises(ValueError, match=sentence):
        RiseLaw.from_steps(STEPS_DBM, volts, 0.001, QUIET_V)


def test_an_uncertain_law_widens_the_width_and_not_the_centre_of_a_symmetric_curve() -> None:
    """One circuit, exact: at half power the slope is 4.343 dB per half-width (d/da of 10 log10(1 + a^2) at a = 1).

    So a law uncertain by 0.1 dB there and exact at the peak moves each edge by 0.1/4.343 of a half-width.
    """
    frequency_hz = np.linspace(430e3, 480e3, 201)
    detuning = 50.0 * (frequency_hz / 455e3 - 455e3 / frequency_hz)
    level_db = -10 * np.log10(1 + detuning**2)
    fit = fit_passband(frequency_hz, level_db + np.random.default_rng(3).normal(0, 1e-4, 201))

    wide = widen_by_law(fit, lambda level: np.where(level < -1.0, 0.1, 0.0))

    assert wide.width_3db is not None
    assert wide.centre is not None
    assert wide.width_3db.sigma == pytest.approx(9100.0 * 0.1 / 4.343, rel=0.02)
    assert wide.centre.sigma < 10.0
