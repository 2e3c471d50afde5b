"""Cascaded circuits that tune together, as in a preselector: loaded Q from the width, and what their stagger costs."""

import math

from sequences.numerics.figures import Estimate

DB_PER_NEPER = 20.0 / math.log(10.0)


def loaded_q_of_each(centre: Estimate, width: Estimate, circuits: int) -> Estimate:
    """Give the loaded Q of each of n equal circuits in cascade from their common 3 dB width.

    n equal circuits narrow by sqrt(2^(1/n) - 1): Terman, Radio Engineers' Handbook (1943), sec. 3 (from memory).

    Raises:
        ValueError: where centre or width is not above zero.
    """
    if not (centre.value > 0.0 and width.value > 0.0):
        raise ValueError("A loaded Q is told from a centre and a width above zero.")
    value = centre.value / width.value * math.sqrt(2.0 ** (1.0 / circuits) - 1.0)
    return Estimate(value, value * math.hypot(centre.sigma / centre.value, width.sigma / width.value))


def stagger_loss(coupling: Estimate) -> Estimate:
    """Give what two circuits of equal Q lose at their middle by being tuned apart, in dB.

    Tuned d half-widths of one circuit to either side they respond as 1 / ((1 + jx)^2 + d^2), which is also the curve
    of two circuits coupled by kQ = d: so a fit's coupling tells the stagger. Tuned alike they would give
    20 log10(1 + d^2) more at x = 0.
    """
    squared = coupling.value**2
    squared_sigma = (coupling.value + coupling.sigma) ** 2 - squared
    return Estimate(DB_PER_NEPER * math.log1p(squared), DB_PER_NEPER * squared_sigma / (1.0 + squared))


def one_circuit_hz(wanted_hz: float, shift: Estimate, circuits: int) -> Estimate:
    """Give where one circuit is tuned that pulls the centre of n equal ones away by `shift`, the others being right."""
    return Estimate(wanted_hz + circuits * shift.value, circuits * shift.sigma)


def tilt_shift(width: float, tilt_db: float, circuits: int) -> float:
    """Give how far a level that rises by `tilt_db` over the 3 dB width moves the centre of n equal circuits.

    Both edges move the same way, by half the tilt over the slope there; the slope of 10 n log10(1 + x^2) at its 3 dB
    point x^2 = 2^(1/n) - 1 is (20 / ln 10) n 2 x^2 / (1 + x^2) dB for each width 2 x.
    """
    x_squared = math.exp2(1.0 / circuits) - 1.0
    slope_db = DB_PER_NEPER * circuits * 2.0 * x_squared / (1.0 + x_squared)
    return width * 0.5 * tilt_db / slope_db
