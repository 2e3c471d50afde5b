"""Levels: volts and decibels of the S-meter table, and what AGC makes of a passband.

Power in 50 ohm against volts is checked beside the simulated source; the law of each detector beside its own module.
"""

import math

import numpy as np
import pytest

from sequences.numerics.figures import DoubtName
from sequences.numerics.levels.level_laws import CalibratedLaw, LinearLaw
from sequences.numerics.responses.passband import PassbandFit, fit_passband
from tests.published.responses import Array, frequency_at, single_db

F0, Q = 455e3, 100.0

# IARU Region 1 Technical Recommendation R.1 (1981, reconfirmed 1990; IARU handbook V9.0, par. 4.1.3): S9 is -73 dBm
# below 30 MHz and 6 dB a unit. Volts in 50 ohm recomputed.
S_METER = [
    ("S9+60", 60, 50_059, 93.99),
    ("S9+40", 40, 5005.9, 73.99),
    ("S9+20", 20, 500.6, 53.99),
    ("S9+10", 10, 158.3, 43.99),
    ("S9", 0, 50.06, 33.99),
    ("S8", -6, 25.09, 27.99),
    ("S7", -12, 12.57, 21.99),
    ("S6", -18, 6.302, 15.99),
    ("S5", -24, 3.159, 9.99),
    ("S4", -30, 1.583, 3.99),
    ("S3", -36, 0.793, -2.01),
    ("S2", -42, 0.398, -8.01),
    ("S1", -48, 0.199, -14.01),
]
"""Mark; dB over S9; microvolts in 50 ohm; dB over a microvolt."""


@pytest.mark.parametrize(("mark", "over_s9_db", "microvolts", "over_a_microvolt_db"), S_METER)
def test_the_microvolts_of_the_s_meter_table_have_its_decibels(
    mark: str, over_s9_db: float, microvolts: float, over_a_microvolt_db: float
) -> None:
    """A linear detector's volts, as the table prints them."""
    level_db = LinearLaw().to_level_db(microvolts * 1e-6).level_db
    s9_db = LinearLaw().to_level_db(50.06e-6).level_db

    assert level_db is not None, mark
    assert s9_db is not None
    # The table's own rounding of 0.199 uV is worth 0.02 dB.
    assert level_db + 120 == pytest.approx(over_a_microvolt_db, abs=0.025)
    assert level_db - s9_db == pytest.approx(over_s9_db, abs=0.025)


def believed_width_hz(fit: PassbandFit) -> float | None:
    """The 3 dB width, unless the fit says itself that no curve explains the readings, or that their top is cut off."""
    if any(doubt.name in (DoubtName.POOR_FIT, DoubtName.SATURATED) for doubt in fit.doubts):
        return None
    assert fit.width_3db is not None
    return fit.width_3db.value


@pytest.mark.parametrize("slope", [0.5, 0.3, 0.2])
def test_a_flattened_circuit_is_found_as_wide_as_it_looks(slope: float) -> None:
    """Level moving by b dB per dB: the apparent width is B sqrt(10^(0.301/b) - 1), or the fit says it cannot tell.

    Factors of 1.73, 3.01 and 5.57, derived from the universal resonance curve.
    """
    factor = math.sqrt(10 ** (math.log10(2) / slope) - 1)
    a = np.linspace(-4 * factor, 4 * factor, 161)

    width_hz = believed_width_hz(fit_passband(frequency_at(a, F0, 10 * Q), slope * single_db(a)))

    assert width_hz is None or width_hz == pytest.approx(factor * F0 / (10 * Q), rel=0.01)


# US Army technical manual, print code AGO 3134, page 79, of a good receiver's AGC: from 1.5 to 10 uV (16.5 dB) the
# audio may rise by up to 15 dB, from 10 uV to 10 mV (60 dB) by 3 dB at most.
KNEES_DBM = (-103.49, -87.0, -27.0)
AUDIO_DB = (0.0, 15.0, 18.0)


def audio_volts(power_dbm: Array) -> Array:
    """The audio of a receiver that just keeps to the manual, straight between its figures."""
    return np.asarray(0.1 * 10 ** (np.interp(power_dbm, KNEES_DBM, AUDIO_DB) / 20))


def test_the_agc_of_a_good_receiver_taken_as_linear_widens_a_passband_nine_times() -> None:
    """Peak at -70 dBm: 3.01 dB of audio are 19.38 dB of signal, where a circuit is 9.26 times as wide as at 3 dB."""
    a = np.linspace(-25, 25, 201)
    audio_db = 20 * np.log10(audio_volts(-70 + single_db(a)))

    width_hz = believed_width_hz(fit_passband(frequency_at(a, F0, 10 * Q), audio_db))

    assert width_hz is None or width_hz == pytest.approx(9.26 * F0 / (10 * Q), rel=0.03)


def test_the_same_agc_stepped_through_and_undone_gives_the_passband_its_width() -> None:
    """Steps of 2 dB with a steady meter; near its sharp knee the law is guesswork, and its sigmas say so."""
    steps_dbm = np.arange(-103, -49, 2.0)
    law = CalibratedLaw.from_steps(steps_dbm, audio_volts(steps_dbm), 1e-6)
    a = np.linspace(-6, 6, 81)

    readings = [law.to_level_db(float(volts)) for volts in audio_volts(-70 + single_db(a))]
    level_dbm = np.array([reading.level_db for reading in readings], dtype=float)
    sigma_db = np.array([reading.sigma_db for reading in readings], dtype=float)
    fit = fit_passband(frequency_at(a, F0, Q), level_dbm, sigma_db)

    assert fit.width_3db is not None
    assert fit.width_3db.value == pytest.approx(F0 / Q, rel=0.005)
    assert fit.loaded_q is not None
    assert fit.loaded_q.value == pytest.approx(Q, rel=0.005)
    assert fit.peak_level is not None
    assert fit.peak_level.value == pytest.approx(-70, abs=0.05)


def test_a_decibel_of_agc_line_noise_grows_by_the_inverse_of_its_slope() -> None:
    """Above the knee the audio moves by 0.05 dB per dB: a hundredth of a dB of it is a fifth of a dB of signal."""
    steps_dbm = np.arange(-103, -49, 2.0)
    volts = float(audio_volts(np.array(-70.0)))
    noise_v = volts * 0.01 * math.log(10) / 20
    law = CalibratedLaw.from_steps(np.repeat(steps_dbm, 16), np.repeat(audio_volts(steps_dbm), 16), noise_v)

    sigma_db = law.to_level_db(volts).sigma_db

    assert sigma_db is not None
    assert sigma_db == pytest.approx(0.2, rel=0.15)
