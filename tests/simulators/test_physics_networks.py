"""Solved networks against the closed forms of the handbooks, which are nowhere used to make them.

Single circuit: the universal resonance curve, Terman, Radio Engineers' Handbook (1943), section 3 (from memory; each
figure recomputed). Coupled pair: Aiken, Two-Mesh Tuned Coupled Circuit Filters, Proc. IRE 25, February 1937 (from
memory; each figure recomputed). Worked textbook example: Scilab textbook companion no. 1409, example 8.1.
"""

import math

import numpy as np
import pytest

from simulators.physics.networks import Coupling, Network, Tank
from simulators.physics.response import Floats, Response, TrueResponse, find_response

CENTRE_HZ = 455e3
COIL_H = 1e-3


def single(quality: float, resonance_hz: float = CENTRE_HZ) -> Network:
    """One tuned circuit."""
    return Network([Tank.tuned(resonance_hz, COIL_H, quality)])


def pair(quality: float, coupling: float, other_quality: float | None = None) -> Network:
    """Two circuits tuned alike, by mutual inductance."""
    tanks = [Tank.tuned(CENTRE_HZ, COIL_H, quality), Tank.tuned(CENTRE_HZ, COIL_H, other_quality or quality)]
    return Network(tanks, [Coupling(0, 1, mutual=coupling)])


def through(network: Network, sense: int) -> Response:
    """The response from the first node to another."""

    def response(frequency_hz: Floats) -> Floats:
        return np.abs(network.sweep_ohm(frequency_hz, 0, sense))

    return response


def found(network: Network, sense: int, reach_hz: float) -> TrueResponse:
    """Search a response around 455 kHz."""
    return find_response(through(network, sense), CENTRE_HZ - reach_hz, CENTRE_HZ + reach_hz)


@pytest.mark.parametrize(
    ("half_widths", "down_db"),
    [
        (0.1, 0.043),
        (0.2, 0.170),
        (0.5, 0.969),
        (1, 3.010),
        (1.5, 5.119),
        (2, 6.990),
        (3, 10.000),
        (4, 12.304),
        (5, 14.150),
        (8, 18.129),
        (10, 20.043),
        (100, 40.000),
    ],
)
def test_one_circuit_follows_the_universal_curve(half_widths: float, down_db: float) -> None:
    """Detuned so that Q(f/f0 - f0/f) is the table's number; the table is printed to 0.001 dB."""
    quality = 100.0
    share = half_widths / (2 * quality)
    frequency_hz = CENTRE_HZ * (share + math.sqrt(share**2 + 1))

    sizes = through(single(quality), 0)(np.array([CENTRE_HZ, frequency_hz]))

    assert 20 * math.log10(sizes[0] / sizes[1]) == pytest.approx(down_db, abs=0.0006)


@pytest.mark.parametrize(
    ("quality", "lower_hz", "upper_hz", "middle_off_hz"),
    [
        (100, 452730.687, 457280.687, 5.687),
        (50, 450472.75, 459572.75, 22.75),
        (10, 432818.4, 478318.4, 568.4),
    ],
)
def test_edges_lie_where_the_exact_form_puts_them(
    quality: float, lower_hz: float, upper_hz: float, middle_off_hz: float
) -> None:
    """f2 - f1 = f0/Q and f1 f2 = f0^2 hold exactly, so the arithmetic middle lies f0/(8 Q^2) above f0."""
    seen = found(single(quality), 0, 6 * CENTRE_HZ / quality if quality > 10 else 300e3)

    assert seen.lower_3db_hz == pytest.approx(lower_hz, abs=0.06)
    assert seen.upper_3db_hz == pytest.approx(upper_hz, abs=0.06)
    assert seen.centre_hz == pytest.approx(CENTRE_HZ + middle_off_hz, abs=0.06)


def test_a_worked_textbook_circuit_resonates_at_5_mhz_with_a_q_of_18_85() -> None:
    """L 15 uH, C 67.6 pF, R 25 ohm in series: f0 5 MHz, Q 18.85, bandwidth 265.25 kHz, as printed.

    The circuit here is damped in parallel, which near resonance is the same for the same Q.
    """
    angular = 2 * math.pi * 4.998e6
    quality = angular * 15e-6 / 25
    network = Network([Tank(15e-6, 67.6e-12, angular * 67.6e-12 / quality)])

    seen = find_response(through(network, 0), 4e6, 6e6)

    assert seen.peak_hz == pytest.approx(5e6, rel=1e-3)
    assert quality == pytest.approx(18.85, rel=1e-3)
    assert seen.width_3db_hz == pytest.approx(265.25e3, rel=1e-3)


@pytest.mark.parametrize(
    ("quality", "strength", "spacing_hz", "width_hz", "off_hz", "valley_db"),
    [
        (100, 1, None, 6435.0, 11, 0.000),
        (100, 2, 7883.0, 12040.6, 63, 1.939),
        (100, 3, 12877.5, 17032.6, 148, 4.440),
        (50, 2, 15782.7, 24096.6, 251, 1.943),
    ],
)
def test_a_coupled_pair_has_the_width_spacing_and_valley_of_the_exact_circuit(
    quality: float, strength: float, spacing_hz: float | None, width_hz: float, off_hz: float, valley_db: float
) -> None:
    """Figures of two parallel-damped tanks with mutual inductance, solved independently without narrow-band steps."""
    response = through(pair(quality, strength / quality), 1)
    seen = find_response(response, CENTRE_HZ - 6 * width_hz / 2, CENTRE_HZ + 6 * width_hz / 2)

    assert seen.width_3db_hz == pytest.approx(width_hz, rel=2e-5)
    assert (seen.centre_hz or 0.0) - CENTRE_HZ == pytest.approx(off_hz, abs=1.0)
    grid = np.linspace(CENTRE_HZ - width_hz / 2, CENTRE_HZ + width_hz / 2, 20001)
    sizes = 20 * np.log10(response(grid))
    humps = grid[1:-1][(sizes[1:-1] > sizes[:-2]) & (sizes[1:-1] > sizes[2:])]
    if spacing_hz is None:
        # At critical coupling the exact circuit may show two humps that no meter could tell from one.
        assert sizes.max() - sizes[10000] < 1e-4
        return
    low, high = np.searchsorted(grid, humps)
    assert humps[1] - humps[0] == pytest.approx(spacing_hz, abs=3 * (grid[1] - grid[0]))
    assert sizes[[low, high]].mean() - sizes[low:high].min() == pytest.approx(valley_db, abs=0.003)


@pytest.mark.parametrize(
    ("strength", "width"), [(0.5, 0.8413), (0.8, 1.1485), (1.0, 1.4142), (1.2, 1.6852), (1.5, 2.0616)]
)
def test_a_coupled_pair_is_as_wide_as_the_narrow_band_form_says(strength: float, width: float) -> None:
    """B in f0/Q by kQ. At Q = 400 the narrow-band form is good to a few parts in ten thousand."""
    quality = 400.0

    seen = found(pair(quality, strength / quality), 1, 5 * CENTRE_HZ / quality)

    assert (seen.width_3db_hz or 0.0) * quality / CENTRE_HZ == pytest.approx(width, rel=3e-4)


def test_unequal_circuits_are_transitional_where_the_closed_form_says() -> None:
    """Q 120 and 60 with k = 0.02: hump spacing f0 sqrt(k^2 - (1/Q1^2 + 1/Q2^2)/2) = 0.030092 f0 x ..., by that form."""
    k_squared = 0.02**2 - (1 / 120**2 + 1 / 60**2) / 2
    response = through(pair(120, 0.02, 60), 1)
    grid = np.linspace(0.97 * CENTRE_HZ, 1.03 * CENTRE_HZ, 40001)
    sizes = response(grid)

    humps = grid[1:-1][(sizes[1:-1] > sizes[:-2]) & (sizes[1:-1] > sizes[2:])]

    assert len(humps) == 2
    assert (humps[1] - humps[0]) / CENTRE_HZ == pytest.approx(math.sqrt(k_squared), rel=3e-3)


def test_without_loss_a_pair_rings_at_the_two_modes() -> None:
    """f0/sqrt(1 +- k): k = 0.02 at 455 kHz gives 450 517 and 459 619 Hz."""
    assert pair(100, 0.02).modes_hz() == pytest.approx([450517, 459619], abs=0.6)


@pytest.mark.parametrize(
    ("stages", "narrowing"), [(1, 1.0), (2, 0.6436), (3, 0.5098), (4, 0.4350), (5, 0.3856), (6, 0.3499), (8, 0.3008)]
)
def test_stages_in_cascade_narrow_each_other(stages: int, narrowing: float) -> None:
    """B_n/B_1 = sqrt(2^(1/n) - 1) for n single circuits (Terman, from memory; recomputed)."""
    quality = 100.0
    one = through(single(quality), 0)

    seen = find_response(lambda frequency_hz: one(frequency_hz) ** stages, CENTRE_HZ - 20e3, CENTRE_HZ + 20e3)

    assert (seen.width_3db_hz or 0.0) / (CENTRE_HZ / quality) == pytest.approx(narrowing, abs=6e-5)


@pytest.mark.parametrize(
    ("signal_hz", "if_hz", "quality", "rejection_db"),
    [
        (1000e3, 455e3, 100, 42.84),
        (25e6, 455e3, 100, 17.17),
        (600e3, 455e3, 50, 40.50),
        (1400e3, 455e3, 50, 34.35),
        (10e6, 455e3, 100, 24.85),
        (10e6, 1.6e6, 100, 35.00),
    ],
)
def test_one_circuit_rejects_the_image_as_the_handbook_says(
    signal_hz: float, if_hz: float, quality: float, rejection_db: float
) -> None:
    """sqrt(1 + Q^2 rho^2), rho = fi/f - f/fi: Kennedy, Electronic Communication Systems, ch. 6 (from memory)."""
    network = single(quality, signal_hz)

    at_signal, at_image = through(network, 0)(np.array([signal_hz, signal_hz + 2 * if_hz]))

    assert 20 * math.log10(at_signal / at_image) == pytest.approx(rejection_db, abs=0.006)


def test_one_frequency_and_a_sweep_agree() -> None:
    """Two ways into the same matrix."""
    network = pair(80, 0.015)
    grid = np.linspace(440e3, 470e3, 7)

    swept = network.sweep_ohm(grid, 0, 1)

    assert swept == pytest.approx([network.transfer_ohm(float(one), 0, 1) for one in grid], rel=1e-12)


def test_a_coupling_capacitor_detunes_what_it_couples() -> None:
    """It stands across each circuit: modes of two equal tanks are 1/sqrt(L C) and 1/sqrt(L (C + 2 Cc))."""
    tank = Tank.tuned(CENTRE_HZ, COIL_H, 100)
    coupling_f = 0.01 * tank.capacitance_f

    modes = Network([tank, tank], [Coupling(0, 1, capacitance_f=coupling_f)]).modes_hz()

    assert modes == pytest.approx([CENTRE_HZ / math.sqrt(1.02), CENTRE_HZ], rel=1e-9)
