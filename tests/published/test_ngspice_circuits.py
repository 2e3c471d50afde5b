"""Fits of circuits that ngspice solved: the figures of the fit against those read off the solved curve itself."""

import numpy as np
import pytest

from sequences.numerics.responses.passband import fit_passband
from tests.published.spice import (
    POINTS_DENSE,
    Tank,
    butterworth_band_pass,
    chain,
    landmarks,
    pair,
    pair_by_capacitor,
    single,
    solve,
)

F0, LAST_IF = 455e3, 60e3

CIRCUITS = {
    "single": (single(Tank(F0, 50)), F0, 9.1e3),
    "single of low Q": (single(Tank(F0, 8)), F0, 57e3),
    "loose pair": (pair(Tank(F0, 80), Tank(F0, 80), 0.5 / 80), F0, 5e3),
    "critical pair": (pair(Tank(F0, 80), Tank(F0, 80), 1 / 80), F0, 8e3),
    "over-coupled pair": (pair(Tank(F0, 80), Tank(F0, 80), 2 / 80), F0, 15e3),
    "skewed pair": (pair(Tank(F0 - 2e3, 80), Tank(F0 + 2e3, 60), 1.3 / 70), F0, 12e3),
    "critical pair by capacitor": (pair_by_capacitor(Tank(F0, 80), Tank(F0, 80), 1 / 80), F0, 8e3),
    "over-coupled pair by capacitor": (pair_by_capacitor(Tank(F0, 80), Tank(F0, 80), 2 / 80), F0, 15e3),
    "four-pole filter": (butterworth_band_pass(F0, 8e3), F0, 8e3),
    "four coupled circuits": (
        chain([Tank(LAST_IF, q) for q in (30, 200, 200, 30)], (0.0252, 0.0162, 0.0252)),
        LAST_IF,
        1.83e3,
    ),
    "four coupled circuits, two of them off": (
        chain(
            [Tank(LAST_IF + off, q) for off, q in ((0, 30), (200, 200), (-100, 200), (0, 30))], (0.0252, 0.0162, 0.0252)
        ),
        LAST_IF,
        1.85e3,
    ),
}
"""Each with its middle and width, roughly: the sweep is five widths."""


def span_hz(name: str) -> tuple[float, float]:
    """From where to where it is swept."""
    _, middle_hz, width_hz = CIRCUITS[name]
    return middle_hz - 2.5 * width_hz, middle_hz + 2.5 * width_hz


@pytest.mark.parametrize("name", CIRCUITS)
def test_a_solved_circuit_is_found_within_half_a_percent_of_its_width(name: str, ngspice: str) -> None:
    """Noise-free samples: centre within 0.5 %, width within 1 % of the 3 dB width."""
    netlist, (start_hz, stop_hz) = CIRCUITS[name][0], span_hz(name)
    truth = landmarks(*solve(ngspice, netlist, start_hz, stop_hz, POINTS_DENSE))

    fit = fit_passband(*solve(ngspice, netlist, start_hz, stop_hz, 101))

    assert fit.centre is not None
    assert fit.width_3db is not None
    assert abs(fit.centre.value - truth.centre_hz) < 0.005 * truth.width_3db_hz
    assert abs(fit.width_3db.value - truth.width_3db_hz) < 0.01 * truth.width_3db_hz


@pytest.mark.parametrize("noise_db", [0.05, 0.2])
@pytest.mark.parametrize("name", CIRCUITS)
def test_with_noise_the_truth_lies_within_the_stated_uncertainty(name: str, noise_db: float, ngspice: str) -> None:
    """Forty noisy sweeps of each: their errors in sigmas are those of honest sigmas, neither boasting nor timid."""
    netlist, (start_hz, stop_hz) = CIRCUITS[name][0], span_hz(name)
    truth = landmarks(*solve(ngspice, netlist, start_hz, stop_hz, POINTS_DENSE))
    frequency_hz, level_db = solve(ngspice, netlist, start_hz, stop_hz, 81)
    random = np.random.default_rng(20261125)

    pulls = []
    for _ in range(40):
        fit = fit_passband(frequency_hz, level_db + random.normal(0, noise_db, level_db.size))
        assert fit.centre is not None
        assert fit.width_3db is not None
        pulls.append(
            (
                (fit.centre.value - truth.centre_hz) / fit.centre.sigma,
                (fit.width_3db.value - truth.width_3db_hz) / fit.width_3db.sigma,
            )
        )

    spread = np.sqrt(np.mean(np.square(pulls), axis=0))
    assert np.all(spread < 1.5), spread
    assert np.all(spread > 0.5), spread
