"""Flat-topped filters: Butterworth and Chebyshev responses from scipy.signal, fitted without a word of what they are.

scipy.signal designs the analogue band-pass filters (`iirfilter`) and gives their responses (`freqs_zpk`). The
low-pass to band-pass step turns each of the 2 to 8 poles of the prototype into one tuned circuit.
"""

from typing import Literal

import numpy as np
import pytest
from scipy import signal

from sequences.numerics.responses.passband import fit_passband
from tests.published.responses import Array
from tests.published.spice import POINTS_DENSE, Landmarks, landmarks

F0, BAND = 455e3, 8e3

FILTERS = {
    **{f"Butterworth of {poles} poles": (poles, 0.0) for poles in range(2, 9)},
    **{f"Chebyshev of {poles} poles, 0.1 dB": (poles, 0.1) for poles in (3, 4, 5, 6)},
    **{f"Chebyshev of {poles} poles, 0.5 dB": (poles, 0.5) for poles in range(2, 9)},
    **{f"Chebyshev of {poles} poles, 1 dB": (poles, 1.0) for poles in (4, 7)},
}
"""Number of poles, ripple in dB."""

RESONATORS = {"single circuit", "coupled or stagger-tuned pair", "loosely coupled pair", "over-coupled pair"}
"""What no filter of three poles or more may be called: their skirts are not those of one or two circuits."""


def response_db(name: str, frequency_hz: Array) -> Array:
    """The filter's level at frequencies in Hz."""
    poles, ripple_db = FILTERS[name]
    edges = 2 * np.pi * (F0 + np.array([-0.5, 0.5]) * BAND)
    kind: Literal["cheby1", "butter"] = "cheby1" if ripple_db else "butter"
    zeros, roots, gain = signal.iirfilter(
        poles, edges, rp=ripple_db or None, btype="bandpass", analog=True, ftype=kind, output="zpk"
    )
    _, response = signal.freqs_zpk(zeros, roots, [gain], 2 * np.pi * frequency_hz)
    return np.asarray(20 * np.log10(np.abs(response)))


def sweep_hz(points: int) -> Array:
    """Frequencies across three times the band."""
    return np.linspace(F0 - 1.5 * BAND, F0 + 1.5 * BAND, points)


def truth(name: str) -> Landmarks:
    """What is read off the filter's own response."""
    dense_hz = sweep_hz(POINTS_DENSE)
    return landmarks(dense_hz, response_db(name, dense_hz))


@pytest.mark.parametrize("name", FILTERS)
def test_a_filters_centre_and_widths_are_found_from_clean_samples(name: str) -> None:
    """Centre within 0.5 %, 3 dB and 6 dB widths within 1 % of the 3 dB width, and never called a resonator."""
    frequency_hz = sweep_hz(121)
    real = truth(name)

    fit = fit_passband(frequency_hz, response_db(name, frequency_hz))

    assert fit.centre is not None
    assert fit.width_3db is not None
    assert fit.width_6db is not None
    assert fit.centre.value == pytest.approx(real.centre_hz, abs=0.005 * real.width_3db_hz)
    assert fit.width_3db.value == pytest.approx(real.width_3db_hz, abs=0.01 * real.width_3db_hz)
    assert fit.width_6db.value == pytest.approx(real.width_6db_hz, abs=0.01 * real.width_3db_hz)
    assert FILTERS[name][0] == 2 or fit.model not in RESONATORS


@pytest.mark.parametrize("noise_db", [0.05, 0.2])
@pytest.mark.parametrize("name", FILTERS)
def test_a_filters_centre_and_widths_lie_within_their_stated_uncertainty(name: str, noise_db: float) -> None:
    """Twenty noisy sweeps: their errors in sigmas are those of honest sigmas; none is called a resonator."""
    frequency_hz = sweep_hz(81)
    level_db = response_db(name, frequency_hz)
    real = truth(name)
    random = np.random.default_rng(20261125)

    pulls = []
    for _ in range(20):
        fit = fit_passband(frequency_hz, level_db + random.normal(0, noise_db, level_db.size))
        assert fit.centre is not None
        assert fit.width_3db is not None
        assert fit.width_6db is not None
        assert FILTERS[name][0] == 2 or fit.model not in RESONATORS
        pulls.append(
            (
                (fit.centre.value - real.centre_hz) / fit.centre.sigma,
                (fit.width_3db.value - real.width_3db_hz) / fit.width_3db.sigma,
                (fit.width_6db.value - real.width_6db_hz) / fit.width_6db.sigma,
            )
        )

    # The root mean square of 20 honest pulls is 1 +- 0.16.
    spread = np.sqrt(np.mean(np.square(pulls), axis=0))
    assert np.all(spread < 1.5), spread
    assert np.all(spread > 0.5), spread
