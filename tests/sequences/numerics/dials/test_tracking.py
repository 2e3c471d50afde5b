"""Three-point tracking against worked figures.

The letters and formulas stand in Reference Data for Radio Engineers and in Terman, Radio Engineers' Handbook (1943),
sec. 9 (from memory). The figures here were computed independently from the circuit: L1 = 200 uH, exact at 600, 1000
and 1400 kHz. The two-point example is ex. 8.5 of the FOSSEE Scilab textbook companion no. 1409.
"""

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from sequences.numerics.dials.tracking import (
    LeastWorst,
    TrimmerPlace,
    adjuster_effects,
    best_tracking,
    circuit_for,
    signal_capacitance_f,
    track_at,
)

EXACT_HZ = (600e3, 1000e3, 1400e3)


@pytest.mark.parametrize(
    ("if_hz", "l_mhz2", "m_mhz2", "n_mhz2"),
    [(455e3, 11.279560, 20.376585, 0.275785), (465e3, 11.098065, 20.264290, 0.281326)],
)
def test_the_constants_of_the_worked_example(if_hz: float, l_mhz2: float, m_mhz2: float, n_mhz2: float) -> None:
    tracking = track_at(EXACT_HZ, if_hz)
    assert tracking.l_hz2 / 1e12 == pytest.approx(l_mhz2, abs=1e-6)
    assert tracking.m_hz2 / 1e12 == pytest.approx(m_mhz2, abs=1e-6)
    assert tracking.n_hz2 / 1e12 == pytest.approx(n_mhz2, abs=1e-6)


@pytest.mark.parametrize(
    ("if_hz", "place", "padder_pf", "trimmer_pf", "coil_uh"),
    [
        (455e3, TrimmerPlace.ACROSS_GANG, 448.01, 11.23, 113.486),
        (455e3, TrimmerPlace.ACROSS_COIL, 459.24, 11.51, 108.004),
        (465e3, TrimmerPlace.ACROSS_GANG, 438.78, 11.41, 112.382),
        (465e3, TrimmerPlace.ACROSS_COIL, 450.19, 11.71, 106.757),
    ],
)
def test_padder_trimmer_and_coil_of_the_worked_example(
    if_hz: float, place: TrimmerPlace, padder_pf: float, trimmer_pf: float, coil_uh: float
) -> None:
    circuit = circuit_for(track_at(EXACT_HZ, if_hz), 200e-6, place)
    assert circuit.padder_f * 1e12 == pytest.approx(padder_pf, abs=0.006)
    assert circuit.trimmer_f * 1e12 == pytest.approx(trimmer_pf, abs=0.006)
    assert circuit.inductance_h * 1e6 == pytest.approx(coil_uh, abs=0.0006)


SCALE_HZ = 1e3 * np.array([550, 600, 700, 800, 900, 1000, 1100, 1200, 1300, 1400, 1500, 1600])


@pytest.mark.parametrize(
    ("if_hz", "error_khz"),
    [
        (455e3, [3.657, 0, -3.566, -3.784, -2.204, 0, 1.934, 2.910, 2.402, 0, -4.607, -11.657]),
        (465e3, [3.695, 0, -3.607, -3.828, -2.230, 0, 1.957, 2.946, 2.431, 0, -4.664, -11.798]),
    ],
)
def test_the_residual_error_over_the_scale(if_hz: float, error_khz: list[float]) -> None:
    tracking = track_at(EXACT_HZ, if_hz)
    assert tracking.error_hz(SCALE_HZ) / 1e3 == pytest.approx(np.array(error_khz), abs=6e-4)


@pytest.mark.parametrize("place", list(TrimmerPlace))
def test_the_circuit_itself_strays_as_the_formula_says(place: TrimmerPlace) -> None:
    tracking = track_at(EXACT_HZ, 455e3)
    circuit = circuit_for(tracking, 200e-6, place)
    assert circuit.frequency_hz(SCALE_HZ) == pytest.approx(tracking.oscillator_hz(SCALE_HZ), rel=1e-12)


def test_the_signal_circuits_capacitance_over_the_scale() -> None:
    total_pf = signal_capacitance_f([550e3, 600e3, 800e3, 1000e3, 1200e3, 1400e3, 1600e3], 200e-6) * 1e12
    assert total_pf == pytest.approx([418.7, 351.8, 197.9, 126.7, 88.0, 64.6, 49.5], abs=0.06)


@pytest.mark.parametrize(
    ("band_khz", "if_hz", "least", "points_khz", "worst"),
    [
        ((550, 1600), 455e3, LeastWorst.ERROR, (606.4, 1016.9, 1514.6), 4474.0),
        ((550, 1600), 465e3, LeastWorst.ERROR, (606.5, 1017.1, 1514.6), 4527.0),
        ((540, 1600), 455e3, LeastWorst.ERROR, (596.7, 1010.5, 1513.5), 4675.0),
        ((535, 1605), 455e3, LeastWorst.ERROR, (592.1, 1009.3, 1517.5), 4821.0),
        ((550, 1600), 455e3, LeastWorst.SHARE, (589.2, 926.2, 1483.7), 0.00486),
        ((550, 1600), 465e3, LeastWorst.SHARE, (589.3, 926.3, 1483.7), 0.00492),
        ((540, 1600), 455e3, LeastWorst.SHARE, (579.2, 917.4, 1481.7), 0.00513),
        ((535, 1605), 455e3, LeastWorst.SHARE, (574.3, 914.3, 1484.9), 0.00531),
    ],
)
def test_the_best_points_of_a_band(
    band_khz: tuple[int, int], if_hz: float, least: LeastWorst, points_khz: tuple[float, ...], worst: float
) -> None:
    tracking = best_tracking(band_khz[0] * 1e3, band_khz[1] * 1e3, if_hz, least=least)
    assert np.array(tracking.exact_hz) / 1e3 == pytest.approx(points_khz, abs=0.06)
    signal_hz = np.linspace(band_khz[0] * 1e3, band_khz[1] * 1e3, 4001)
    merit = tracking.error_hz(signal_hz) / (signal_hz if least is LeastWorst.SHARE else 1.0)
    assert np.abs(merit).max() == pytest.approx(worst, rel=2e-3)


def test_plain_chebyshev_points_are_not_the_best() -> None:
    half_hz = 525e3 * np.cos(np.pi / 6.0)
    chebyshev = track_at((1075e3 - half_hz, 1075e3, 1075e3 + half_hz), 455e3)
    worst_hz = np.abs(chebyshev.error_hz(np.linspace(550e3, 1600e3, 4001))).max()
    assert worst_hz == pytest.approx(6010.0, abs=6.0)


@pytest.mark.parametrize(
    ("signal_khz", "trimmer_khz", "padder_khz", "coil_khz"),
    [
        (550, -0.60, -2.45, -5.01),
        (600, -0.80, -2.34, -5.24),
        (1000, -4.01, -1.70, -7.22),
        (1400, -10.35, -1.33, -9.21),
        (1600, -14.64, -1.21, -10.14),
    ],
)
def test_which_adjuster_rules_where(signal_khz: int, trimmer_khz: float, padder_khz: float, coil_khz: float) -> None:
    circuit = circuit_for(track_at(EXACT_HZ, 455e3), 200e-6, TrimmerPlace.ACROSS_GANG)
    effects = adjuster_effects(circuit, [signal_khz * 1e3])
    assert effects.trimmer_hz_per_pf[0] / 1e3 == pytest.approx(trimmer_khz, abs=0.006)
    assert effects.padder_hz_per_percent[0] / 1e3 == pytest.approx(padder_khz, abs=0.006)
    assert effects.coil_hz_per_percent[0] / 1e3 == pytest.approx(coil_khz, abs=0.006)


@given(
    points=st.lists(st.floats(0.1, 30.0), min_size=3, max_size=3),
    if_mhz=st.floats(0.05, 10.0),
    scale=st.sampled_from([1.0, 1e3, 1e6]),
)
def test_tracking_is_exact_at_its_three_points_in_any_unit(points: list[float], if_mhz: float, scale: float) -> None:
    first, second, third = sorted(points)
    assume(second > 1.05 * first)
    assume(third > 1.05 * second)
    tracking = track_at((third * scale, first * scale, second * scale), if_mhz * scale)
    assert tracking.error_hz([f * scale for f in points]) == pytest.approx(0.0, abs=1e-6 * third * scale)


def test_what_makes_no_sense_is_refused_with_a_sentence() -> None:
    with pytest.raises(ValueError, match="three different"):
        track_at((600e3, 600e3, 1400e3), 455e3)
    with pytest.raises(ValueError, match="band from low to high"):
        best_tracking(1600e3, 550e3, 455e3)
