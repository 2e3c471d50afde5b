"""Two coupled circuits: curves and fits against the handbook's table and against the exact circuit.

C. B. Aiken, Two-Mesh Tuned Coupled Circuit Filters, Proc. IRE 25 (1937), abstracted in Radiotron Designer's Handbook,
4th edition, chapter 9; F. E. Terman, Radio Engineers' Handbook (1943), section 3: all from memory. Every figure was
recomputed from A = 2 k' / sqrt((1 + k'^2 - a^2)^2 + 4 a^2), k' = kQ, a = Q (f/f0 - f0/f).
"""

import math

import numpy as np
import pytest

from sequences.numerics.figures import Estimate
from sequences.numerics.responses.circuits import CoupledCircuits, pair_parameters
from sequences.numerics.responses.curves import SKEWED_PAIR
from sequences.numerics.responses.passband import PassbandFit, fit_passband
from tests.published.responses import HALF_POWER_DB, Array, frequency_at, pair_db

F0, Q = 455e3, 100.0

DOWN_AT = (0, 0.5, 1, 1.5, 2, 3, 4, 5, 6, 8, 10, 20)
DOWN_DB = {
    0.5: (0, 1.07, 4.15, 8.06, 11.78, 17.89, 22.56, 26.28, 29.37, 34.29, 38.13, 50.12),
    1.0: (0, 0.07, 0.97, 3.55, 6.99, 13.27, 18.13, 21.97, 25.12, 30.11, 33.98, 46.02),
    1.5: (0.70, 0.46, 0.03, 0.46, 2.65, 8.85, 14.01, 18.04, 21.31, 26.42, 30.35, 42.47),
    2.0: (1.94, 1.68, 0.97, 0.15, 0.26, 5.12, 10.63, 14.95, 18.39, 23.68, 27.70, 39.94),
    3.0: (4.44, 4.26, 3.73, 2.83, 1.60, 0.12, 4.44, 9.56, 13.58, 19.45, 23.73, 36.30),
}
"""kQ: how many dB below the maximum of the curve at each a of DOWN_AT."""

PAIRS = [
    (0.5, 0, 0, 0.8413, 1.2415, 28.5),
    (0.8, 0, 0, 1.1485, 1.5822, 25.6),
    (1.0, 0, 0, 1.4142, 1.8612, 24.0),
    (1.2, 0.6633, 0.144, 1.6852, 2.1440, 22.9),
    (1.5, 1.1180, 0.695, 2.0616, 2.5389, 21.6),
    (2.0, 1.7321, 1.938, 2.6458, 3.1509, 20.1),
    (1 + math.sqrt(2), 2.1974, 3.010, 3.1075, 3.6320, 19.1),
    (3.0, 2.8284, 4.437, 3.7417, 4.2886, 18.1),
]
"""kQ; a of the humps; valley in dB; 3 dB width from outer edge to outer edge in f0/Q; a at 6 dB; shape factor."""

FACTOR_OF_2_DB = 20 * math.log10(2)


def value(figure: Estimate | None) -> float:
    """The figure itself, which must be there."""
    assert figure is not None
    return figure.value


def fit_pair(coupling: float, reach: float = 6) -> PassbandFit:
    """Fit noise-free samples of a pair."""
    a = np.linspace(-reach, reach, 121)
    return fit_passband(frequency_at(a, F0, Q), pair_db(a, coupling))


@pytest.mark.parametrize("coupling", DOWN_DB)
def test_the_curve_of_a_pair_falls_as_tabulated_on_both_sides(coupling: float) -> None:
    parameters = pair_parameters(CoupledCircuits(F0, Q, F0, Q, coupling))
    top_db = float(SKEWED_PAIR.level_db(parameters, frequency_at(np.linspace(-4, 4, 8001), F0, Q)).max())

    for side in (-1, 1):
        level_db = SKEWED_PAIR.level_db(parameters, frequency_at(side * np.array(DOWN_AT), F0, Q))
        assert top_db - level_db == pytest.approx(DOWN_DB[coupling], abs=0.006)


@pytest.mark.parametrize("coupling", DOWN_DB)
def test_two_circuits_with_their_coupling_fall_as_tabulated(coupling: float) -> None:
    circuits = CoupledCircuits(F0, Q, F0, Q, coupling)
    top_db = float(circuits.level_db(frequency_at(np.linspace(-4, 4, 8001), F0, Q)).max())

    level_db = circuits.level_db(frequency_at(DOWN_AT, F0, Q))

    assert top_db - level_db == pytest.approx(DOWN_DB[coupling], abs=0.006)


@pytest.mark.parametrize(("coupling", "width"), [(1.0, 1.4142), (1.5, 2.0616), (2.0, 2.6458), (3.0, 3.7417)])
def test_the_printed_table_itself_is_fitted_with_its_coupling(coupling: float, width: float) -> None:
    """The table as printed, to a hundredth of a dB, taken for readings on both sides."""
    a, down_db = np.array(DOWN_AT), np.array(DOWN_DB[coupling])
    frequency_hz = frequency_at(np.concatenate((-a[:0:-1], a)), F0, Q)

    fit = fit_passband(frequency_hz, -np.concatenate((down_db[:0:-1], down_db)))

    assert value(fit.coupling) == pytest.approx(coupling, rel=0.01)
    assert value(fit.loaded_q) == pytest.approx(Q, rel=0.01)
    assert value(fit.width_3db) == pytest.approx(width * F0 / Q, rel=0.002)
    assert value(fit.centre) == pytest.approx(frequency_at([-width, width], F0, Q).mean(), abs=0.001 * width * F0 / Q)


@pytest.mark.parametrize(("coupling", "hump_a", "valley_db", "width", "a_at_half", "shape_factor"), PAIRS)
def test_a_fitted_pair_has_the_widths_and_the_valley_of_the_table(
    coupling: float, hump_a: float, valley_db: float, width: float, a_at_half: float, shape_factor: float
) -> None:
    fit = fit_pair(coupling)
    one_hz = F0 / Q

    assert value(fit.width_3db) == pytest.approx(width * one_hz, rel=2e-4)
    # The table's 6 dB is a factor of 2, 6.02 dB; the fit's is 6 dB.
    assert value(fit.width_6db) == pytest.approx(a_at_half * one_hz, rel=4e-3)
    assert value(fit.loaded_q) == pytest.approx(Q, rel=2e-3)
    assert value(fit.coupling) == pytest.approx(coupling, rel=5e-3)
    if hump_a:
        assert value(fit.ripple) == pytest.approx(valley_db, abs=2e-3)
        assert humps_hz(fit) == pytest.approx(frequency_at([-hump_a, hump_a], F0, Q), abs=0.01 * one_hz)
    assert value(fit_pair(coupling, 90).width_60db) / value(fit.width_6db) == pytest.approx(shape_factor, rel=5e-3)


def humps_hz(fit: PassbandFit) -> Array:
    """Where the fitted curve has its maxima."""
    grid_hz = frequency_at(np.linspace(-4, 4, 8001), F0, Q)
    rise = np.diff(fit.level_db(grid_hz))
    return np.asarray(grid_hz[1:-1][(rise[:-1] > 0) & (rise[1:] <= 0)])


@pytest.mark.parametrize(
    ("coupling", "model"),
    [(0.5, "loosely coupled pair"), (1.0, "critically coupled pair"), (2.0, "over-coupled pair")],
)
def test_a_pair_is_called_by_its_coupling(coupling: float, model: str) -> None:
    """Loose below kQ = 1, critical at it, over-coupled above: common practice, no source."""
    random = np.random.default_rng(7)
    a = np.linspace(-6, 6, 121)

    fit = fit_passband(frequency_at(a, F0, Q), pair_db(a, coupling) + random.normal(0, 0.02, a.size))

    assert fit.model == model


@pytest.mark.parametrize(("ripple_db", "coupling"), [(0.1, 1.1642), (0.5, 1.4086), (1.0, 1.6309), (3.0, 2.4102)])
def test_the_depth_of_the_valley_tells_the_coupling(ripple_db: float, coupling: float) -> None:
    """Valley 20 log10((1 + k'^2) / (2 k')) below the humps."""
    fit = fit_pair(coupling)

    assert value(fit.ripple) == pytest.approx(ripple_db, abs=2e-3)
    assert value(fit.coupling) == pytest.approx(coupling, rel=1e-3)


def mutual_pair_db(frequency_hz: Array, q: float, coupling: float) -> Array:
    """Two parallel circuits with mutual inductance, solved by their node equations; no narrow-band step."""
    omega = 2 * math.pi * frequency_hz
    inductance = 1e-4
    capacitance = 1 / ((2 * math.pi * F0) ** 2 * inductance)
    conductance = math.sqrt(capacitance / inductance) / q
    leak = 1 / (1j * omega * inductance * (1 - (coupling / q) ** 2))
    own, mutual = conductance + 1j * omega * capacitance + leak, -(coupling / q) * leak
    return np.asarray(20 * np.log10(np.abs(mutual / (own**2 - mutual**2))))


# Computed independently of the code: two parallel LCR circuits at 455 kHz with mutual inductance, solved exactly.
@pytest.mark.parametrize(
    ("q", "coupling", "width_hz", "middle_off_hz", "valley_db"),
    [
        (100, 1, 6435.0, 11, 0.0),
        (100, 2, 12_040.6, 63, 1.939),
        (100, 3, 17_032.6, 148, 4.440),
        (50, 2, 24_096.6, 251, 1.943),
    ],
)
def test_cans_with_mutual_inductance_are_found_where_they_are(
    q: float, coupling: float, width_hz: float, middle_off_hz: float, valley_db: float
) -> None:
    """The exact circuit leans to one side and its middle lies off f0: a fit must follow it."""
    frequency_hz = np.linspace(F0 - 1.5 * width_hz, F0 + 1.5 * width_hz, 121)

    fit = fit_passband(frequency_hz, mutual_pair_db(frequency_hz, q, coupling))

    assert value(fit.centre) - F0 == pytest.approx(middle_off_hz, abs=0.001 * width_hz)
    assert value(fit.width_3db) == pytest.approx(width_hz, rel=0.002)
    if valley_db:
        assert value(fit.coupling) == pytest.approx(coupling, rel=0.02)


def unequal_pair_db(frequency_hz: Array, first_q: float, second_q: float, k: float) -> Array:
    """Two circuits at F0 with a Q each: 1 / |(1 + j Q1 y) (1 + j Q2 y) + k^2 Q1 Q2|."""
    y = frequency_hz / F0 - F0 / frequency_hz
    denominator = (1 + 1j * first_q * y) * (1 + 1j * second_q * y) + k * k * first_q * second_q
    return np.asarray(-20 * np.log10(np.abs(denominator)))


@pytest.mark.parametrize(("k", "humps"), [(0.0128, 1), (0.0136, 2)])
def test_unequal_circuits_part_into_humps_at_transitional_coupling(k: float, humps: int) -> None:
    """Q 120 and 60: not at k_c = 0.011785 but from k_t = sqrt((1/Q1^2 + 1/Q2^2) / 2) = 0.013176 on."""
    frequency_hz = np.linspace(F0 - 20e3, F0 + 20e3, 201)

    fit = fit_passband(frequency_hz, unequal_pair_db(frequency_hz, 120, 60, k))

    assert len(humps_hz(fit)) == humps


def test_unequal_circuits_have_their_hump_spacing() -> None:
    """Spacing f0 sqrt(k^2 - k_t^2) = 0.015046 f0 for Q 120 and 60 with k = 0.02; a grid search agrees."""
    frequency_hz = np.linspace(F0 - 20e3, F0 + 20e3, 201)

    lower_hz, upper_hz = humps_hz(fit_passband(frequency_hz, unequal_pair_db(frequency_hz, 120, 60, 0.02)))

    assert upper_hz - lower_hz == pytest.approx(0.015046 * F0, rel=2e-3)


def test_the_valley_reaches_the_3_db_points_at_a_coupling_of_1_plus_root_2() -> None:
    fit = fit_pair(1 + math.sqrt(2))

    assert value(fit.ripple) == pytest.approx(HALF_POWER_DB, abs=2e-3)
