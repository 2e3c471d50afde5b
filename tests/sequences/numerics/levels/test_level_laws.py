"""Level from volts: laws taken as known, and laws found by stepping the source."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from sequences.numerics.levels.level_laws import CalibratedLaw, LevelLaw, LinearLaw, SquareLaw

STEPS_DBM = np.arange(-90.0, -29.0, 3.0)


def agc_line(power_dbm: NDArray[np.float64]) -> NDArray[np.float64]:
    """A negative-going AGC voltage: at rest at -1 V, then 0.9 V for each 6 dB of signal over a threshold."""
    return -1.0 - 0.9 * np.log1p(np.exp((power_dbm + 75.0) / 6.0))


def falling_meter(power_dbm: NDArray[np.float64]) -> NDArray[np.float64]:
    """A positive voltage that falls as the signal rises, as at a controlled stage's cathode."""
    return 5.0 - 3.0 / (1.0 + np.exp(-(power_dbm + 60.0) / 7.0))


def test_a_linear_detector_loses_6_db_when_its_voltage_halves_whatever_its_sign() -> None:
    law = LinearLaw()
    full, half = law.to_level_db(-2.0).level_db, law.to_level_db(1.0).level_db
    assert full is not None
    assert half is not None
    # 20 log10 2, by the definition of the decibel.
    assert full - half == pytest.approx(6.0206, abs=1e-4)


def test_a_square_law_detector_loses_3_db_when_its_voltage_halves() -> None:
    law = SquareLaw()
    full, half = law.to_level_db(0.02).level_db, law.to_level_db(0.01).level_db
    assert full is not None
    assert half is not None
    assert full - half == pytest.approx(3.0103, abs=1e-4)


@pytest.mark.parametrize(("law", "db"), [(LinearLaw(0.01), 0.0869), (SquareLaw(0.01), 0.0434)])
def test_one_percent_of_noise_is_so_many_decibels(law: LevelLaw, db: float) -> None:
    # 8.686 dB and 4.343 dB to the neper of voltage, ITU-R V.574: 1 Np = 8.686 dB.
    assert law.to_level_db(1.0).sigma_db == pytest.approx(db, abs=1e-4)


@pytest.mark.parametrize("volts", [0.0, math.nan, math.inf])
@pytest.mark.parametrize("law", [LinearLaw(), SquareLaw(0.001), CalibratedLaw.from_steps(STEPS_DBM, STEPS_DBM, 0.1)])
def test_a_reading_that_cannot_be_a_level_is_refused_with_a_sentence(law: LevelLaw, volts: float) -> None:
    reading = law.to_level_db(volts)
    assert reading.level_db is None
    assert reading.reason is not None
    assert reading.reason.endswith(".")


def test_a_reading_inside_the_meters_own_noise_is_no_level() -> None:
    assert LinearLaw(volts_sigma=0.01).to_level_db(0.005).level_db is None


@given(power_dbm=st.floats(-88.0, -32.0))
def test_a_calibrated_law_gives_back_the_source_power_of_an_agc_line(power_dbm: float) -> None:
    law = CalibratedLaw.from_steps(STEPS_DBM, agc_line(STEPS_DBM), 1e-4)
    reading = law.to_level_db(float(agc_line(np.array(power_dbm))))
    assert reading.level_db == pytest.approx(power_dbm, abs=0.02)


@given(order=st.permutations(range(len(STEPS_DBM))))
def test_the_order_of_the_steps_changes_nothing(order: list[int]) -> None:
    straight = CalibratedLaw.from_steps(STEPS_DBM, agc_line(STEPS_DBM), 0.01)
    shuffled = CalibratedLaw.from_steps(STEPS_DBM[order], agc_line(STEPS_DBM)[order], 0.01)
    assert shuffled.to_level_db(-5.0) == straight.to_level_db(-5.0)


@given(offset_v=st.floats(-5.0, 5.0), gain=st.sampled_from([-3.0, -1.0, 0.1, 20.0]))
def test_a_meter_with_another_offset_gain_or_sign_gives_the_same_level(offset_v: float, gain: float) -> None:
    plain = CalibratedLaw.from_steps(STEPS_DBM, agc_line(STEPS_DBM), 0.01).to_level_db(-5.0)
    other = CalibratedLaw.from_steps(STEPS_DBM, offset_v + gain * agc_line(STEPS_DBM), abs(gain) * 0.01)
    reading = other.to_level_db(offset_v + gain * -5.0)
    assert reading.level_db == pytest.approx(plain.level_db, abs=1e-6)
    assert reading.sigma_db == pytest.approx(plain.sigma_db, rel=1e-6)


@given(volts=st.floats(-14.0, 2.0))
def test_a_calibrated_law_never_answers_beyond_its_ends(volts: float) -> None:
    law = CalibratedLaw.from_steps(STEPS_DBM, agc_line(STEPS_DBM), 1e-3)
    reading = law.to_level_db(volts)
    if min(law.volts) <= volts <= max(law.volts):
        assert reading.level_db is not None
        assert STEPS_DBM[0] <= reading.level_db <= STEPS_DBM[-1]
    else:
        assert reading.level_db is None
        assert "calibrated step" in str(reading.reason)


def test_a_stronger_signal_never_gives_a_lower_level() -> None:
    rng = np.random.default_rng(3)
    law = CalibratedLaw.from_steps(STEPS_DBM, falling_meter(STEPS_DBM) + rng.normal(0.0, 0.02, STEPS_DBM.size), 0.02)
    levels = [law.to_level_db(float(v)).level_db for v in np.linspace(max(law.volts), min(law.volts), 400)]
    assert np.all(np.diff(np.array(levels, dtype=np.float64)) >= 0.0)


def test_noise_grows_where_the_law_is_flat() -> None:
    law = CalibratedLaw.from_steps(STEPS_DBM, falling_meter(STEPS_DBM), 0.01)
    steep, flat = law.to_level_db(3.5).sigma_db, law.to_level_db(2.1).sigma_db
    assert steep is not None
    assert flat is not None
    assert flat > 4.0 * steep


@pytest.mark.parametrize(("meter", "sigma_v"), [(agc_line, 1e-3), (agc_line, 1e-2), (falling_meter, 1e-2)])
def test_the_stated_uncertainty_covers_the_truth_in_95_of_100_readings(meter: object, sigma_v: float) -> None:
    assert callable(meter)
    rng = np.random.default_rng(20)
    inside = []
    for _ in range(100):
        law = CalibratedLaw.from_steps(STEPS_DBM, meter(STEPS_DBM) + rng.normal(0.0, sigma_v, STEPS_DBM.size), sigma_v)
        for power_dbm in rng.uniform(-80.0, -38.0, 20):
            reading = law.to_level_db(float(meter(np.array(power_dbm))) + float(rng.normal(0.0, sigma_v)))
            assert reading.level_db is not None
            assert reading.sigma_db is not None
            inside.append(abs(reading.level_db - power_dbm) <= 1.96 * reading.sigma_db)
    assert 0.93 <= np.mean(inside) <= 0.97


def test_repeated_steps_are_averaged() -> None:
    rng = np.random.default_rng(5)
    thrice = np.repeat(STEPS_DBM, 3)
    once = CalibratedLaw.from_steps(STEPS_DBM, agc_line(STEPS_DBM) + rng.normal(0.0, 0.02, 21), 0.02)
    averaged = CalibratedLaw.from_steps(thrice, agc_line(thrice) + rng.normal(0.0, 0.02, 63), 0.02)
    assert np.mean(averaged.law_sigma_v) < 0.75 * np.mean(once.law_sigma_v)


@pytest.mark.parametrize(
    ("power_dbm", "volts", "sigma_v", "says"),
    [
        ([-60, -50, -40], [1, 2, 3], 0.01, "at least 4"),
        ([-60, -50, -40, -30], [1, 2, 3], 0.01, "one voltage for each"),
        ([-60, -50, -40, -30], [1, 2, math.nan, 4], 0.01, "not a number"),
        ([-60, -50, -40, -30], [1, 2, 3, 4], -0.01, "negative"),
        ([-60, -50, -40, -30, -20], [1, 2, 3, 2.5, 1.5], 0.01, "does not move steadily"),
        ([-60, -50, -40, -30, -20], [1, 1.01, 1.0, 0.99, 1.01], 0.01, "does not follow the source"),
    ],
)
def test_steps_that_make_no_law_are_refused_with_a_sentence(
    power_dbm: list[float], volts: list[float], sigma_v: float, says: str
) -> None:
    with pytest.raises(ValueError, match=says):
        CalibratedLaw.from_steps(power_dbm, volts, sigma_v)
