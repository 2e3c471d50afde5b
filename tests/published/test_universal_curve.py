"""Single circuits and cascades of equal ones: curves and fits against the universal resonance curve.

F. E. Terman, Radio Engineers' Handbook (1943), section 3, and Radiotron Designer's Handbook, 4th edition, chapters 9
and 26, from memory; every figure was recomputed from 1 / sqrt(1 + a^2), a = Q (f/f0 - f0/f). Band edges at 0.707 of
the greatest output and Q = X/R: NEETS Module 9 (NAVEDTRA 14181), page 1-47.
"""

import math

import numpy as np
import pytest

from sequences.numerics.figures import Estimate
from sequences.numerics.responses.curves import SINGLE_CIRCUIT, EqualCircuits
from sequences.numerics.responses.passband import PassbandFit, fit_passband
from tests.published.responses import frequency_at, pair_db, single_db

F0 = 455e3

UNIVERSAL_CURVE = [
    (0.1, 0.043),
    (0.2, 0.170),
    (0.5, 0.969),
    (1.0, 3.010),
    (1.5, 5.119),
    (2.0, 6.990),
    (3.0, 10.000),
    (4.0, 12.304),
    (5.0, 14.150),
    (8.0, 18.129),
    (10.0, 20.043),
    (100.0, 40.000),
]
"""a, and how many dB down."""


def value(figure: Estimate | None) -> float:
    """The figure itself, which must be there."""
    assert figure is not None
    return figure.value


@pytest.mark.parametrize(("a", "down_db"), UNIVERSAL_CURVE)
@pytest.mark.parametrize("q", [10, 100])
def test_the_single_circuit_is_the_universal_curve_on_both_sides(q: float, a: float, down_db: float) -> None:
    parameters = np.array([F0, math.log(F0 / q), 0.0])

    level_db = SINGLE_CIRCUIT.level_db(parameters, frequency_at([-a, a], F0, q))

    assert level_db == pytest.approx([-down_db, -down_db], abs=6e-4)


def test_the_printed_table_itself_is_fitted_with_its_q() -> None:
    """The table down to 20 dB, as printed to a thousandth of a dB, taken for readings of a circuit with a Q of 100."""
    a, down_db = np.array([(0.0, 0.0), *UNIVERSAL_CURVE[:-1]]).T
    frequency_hz = frequency_at(np.concatenate((-a[:0:-1], a)), F0, 100)

    fit = fit_passband(frequency_hz, -np.concatenate((down_db[:0:-1], down_db)))

    assert fit.model == "single circuit"
    assert value(fit.loaded_q) == pytest.approx(100, rel=1e-3)
    assert value(fit.peak) == pytest.approx(F0, abs=1)
    assert value(fit.width_3db) == pytest.approx(4550, rel=1e-3)
    assert value(fit.width_6db) == pytest.approx(4550 * math.sqrt(10**0.6 - 1), rel=1e-3)


# f1 f2 = f0^2 and f2 - f1 = f0/Q hold exactly, so that the middle of the edges lies f0 / (8 Q^2) above f0: derived and
# computed independently of the code.
@pytest.mark.parametrize(
    ("q", "lower_hz", "upper_hz", "width_hz", "middle_off_hz", "within_hz"),
    [
        (100, 452_730.687, 457_280.687, 4550, 5.687, 0.005),
        (50, 450_472.75, 459_572.75, 9100, 22.75, 0.01),
        (10, 432_818.4, 478_318.4, 45_500, 568.4, 0.1),
    ],
)
def test_the_edges_lie_where_the_exact_form_puts_them(
    q: float, lower_hz: float, upper_hz: float, width_hz: float, middle_off_hz: float, within_hz: float
) -> None:
    a = np.linspace(-6, 6, 61)

    fit = fit_passband(frequency_at(a, F0, q), single_db(a))

    assert fit.model == "single circuit"
    assert value(fit.lower_3db) == pytest.approx(lower_hz, abs=within_hz)
    assert value(fit.upper_3db) == pytest.approx(upper_hz, abs=within_hz)
    assert value(fit.width_3db) == pytest.approx(width_hz, abs=2 * within_hz)
    assert value(fit.centre) - F0 == pytest.approx(middle_off_hz, abs=within_hz)
    assert value(fit.peak) == pytest.approx(F0, abs=within_hz)
    assert value(fit.loaded_q) == pytest.approx(q, rel=1e-5)


def test_a_worked_textbook_circuit_has_its_frequency_q_and_width() -> None:
    """15 uH, 67.6 pF and 25 ohm in series: 5 MHz, Q 18.85, 265.25 kHz.

    FOSSEE Scilab textbook companion no. 1409, example 8.1 (book page 8-6).
    """
    frequency_hz = np.linspace(4.2e6, 5.8e6, 81)
    omega = 2 * math.pi * frequency_hz
    current = 1 / np.abs(25 + 1j * (omega * 15e-6 - 1 / (omega * 67.6e-12)))

    fit = fit_passband(frequency_hz, 20 * np.log10(current))

    assert value(fit.peak) == pytest.approx(5e6, rel=1e-3)
    assert value(fit.loaded_q) == pytest.approx(18.85, abs=0.02)
    assert value(fit.width_3db) == pytest.approx(265.25e3, rel=1e-3)


SINGLES = [
    (1, 1.0000, 1.732, 1000.0),
    (2, 0.6436, 1.000, 31.61),
    (3, 0.5098, 0.7664, 9.950),
    (4, 0.4350, 0.6436, 5.534),
    (5, 0.3856, 0.5653, 3.853),
    (6, 0.3499, 0.5098, 3.000),
    (8, 0.3008, 0.4350, 2.150),
]
"""How many equal circuits; 3 dB width of all over that of one, sqrt(2^(1/n) - 1); a at a factor of 2 and at 60 dB."""

FACTOR_OF_2_DB = 20 * math.log10(2)


def cascade(circuits: int, q: float = 50, reach_db: float = 45) -> PassbandFit:
    """Fit noise-free samples of equal circuits, down to a depth on both sides."""
    reach = math.sqrt(10 ** (reach_db / (10 * circuits)) - 1)
    a = np.linspace(-reach, reach, 101)
    return fit_passband(frequency_at(a, F0, q), circuits * single_db(a))


@pytest.mark.parametrize(("circuits", "shrinkage", "a_at_half", "a_at_60_db"), SINGLES)
def test_equal_circuits_in_cascade_fall_as_tabulated(
    circuits: int, shrinkage: float, a_at_half: float, a_at_60_db: float
) -> None:
    parameters = np.array([F0, math.log(shrinkage * F0 / 50), 0.0])

    level_db = EqualCircuits(circuits).level_db(parameters, frequency_at([a_at_half, a_at_60_db], F0, 50))

    assert level_db == pytest.approx([-FACTOR_OF_2_DB, -60], abs=0.02)


@pytest.mark.parametrize(("circuits", "shrinkage", "a_at_half", "a_at_60_db"), SINGLES)
def test_equal_circuits_in_cascade_narrow_each_other(
    circuits: int, shrinkage: float, a_at_half: float, a_at_60_db: float
) -> None:
    """The fit finds how many there are, the Q of each and the widths of all together."""
    one_hz = F0 / 50
    fit = cascade(circuits, reach_db=25 if circuits == 1 else 65)

    assert fit.model == ("single circuit" if circuits == 1 else f"{circuits} equal circuits")
    assert value(fit.loaded_q) == pytest.approx(50, rel=1e-3)
    assert value(fit.width_3db) == pytest.approx(shrinkage * one_hz, rel=3e-4)
    # The table's 6 dB is a factor of 2, 6.02 dB; the fit's is 6 dB.
    assert value(fit.width_6db) == pytest.approx(a_at_half * one_hz, rel=4e-3)
    assert value(fit.centre) == pytest.approx(F0, rel=1e-4)
    if circuits > 1:
        assert value(fit.width_60db) == pytest.approx(a_at_60_db * one_hz, rel=1e-3)


CRITICAL_PAIRS = [
    (1, 1.4142, 24.03),
    (2, 1.1345, 5.62),
    (3, 1.0098, 3.60),
    (4, 0.9327, 2.93),
    (5, 0.8782, 2.61),
    (6, 0.8366, 2.43),
    (8, 0.7757, 2.22),
]
"""How many critically coupled pairs; a at 3 dB, sqrt 2 (2^(1/n) - 1)^(1/4); 60 dB width over 6 dB width."""


@pytest.mark.parametrize(("pairs", "a_at_3_db", "shape_factor"), CRITICAL_PAIRS)
def test_critically_coupled_pairs_in_cascade_narrow_each_other(
    pairs: int, a_at_3_db: float, shape_factor: float
) -> None:
    """Whatever the fit calls them: centre within 0.5 %, width within 1 % of the 3 dB width, shape factor within 2 %."""
    reach = math.sqrt(2 * math.sqrt(10 ** (6.5 / pairs) - 1))
    a = np.linspace(-reach, reach, 161 if pairs > 1 else 801)
    width_hz = a_at_3_db * F0 / 80

    fit = fit_passband(frequency_at(a, F0, 80), pairs * pair_db(a, 1))

    middle_hz = float(frequency_at([-a_at_3_db, a_at_3_db], F0, 80).mean())
    assert value(fit.centre) == pytest.approx(middle_hz, abs=0.005 * width_hz)
    assert value(fit.width_3db) == pytest.approx(width_hz, rel=0.01)
    if fit.width_60db is not None:
        assert fit.width_60db.value / value(fit.width_6db) == pytest.approx(shape_factor, rel=0.02)


@pytest.mark.parametrize("pairs", [1, 2])
def test_one_and_two_critically_coupled_pairs_have_their_shape_factor(pairs: int) -> None:
    """These the fit has curves for, so that their 60 dB width must be there too."""
    reach = math.sqrt(2 * math.sqrt(10 ** (6.5 / pairs) - 1))
    a = np.linspace(-reach, reach, 801)

    fit = fit_passband(frequency_at(a, F0, 80), pairs * pair_db(a, 1))

    assert value(fit.width_60db) / value(fit.width_6db) == pytest.approx(CRITICAL_PAIRS[pairs - 1][2], rel=0.005)
