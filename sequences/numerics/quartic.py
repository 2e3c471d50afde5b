"""The inverse power of two circuits is a quartic in detuning: from its coefficients to the parameters of a pair."""

import numpy as np

from sequences.numerics.curves import DB_PER_NEPER_OF_POWER, Array

_ROUNDS = 12


def pair_of_quartic(coefficients: Array, middle_hz: float, unit_hz: float, bound: float = np.inf) -> Array | None:
    """Parameters of `curves.SkewedPair` whose inverse power is close to a quartic in narrow-band detuning.

    Args:
        coefficients: Shape (5,), lowest power first, in (f - middle_hz^2 / f) / unit_hz.
        middle_hz: Where the detuning is zero.
        unit_hz: Its unit.
        bound: The middle of the pair may not lie further out than this.

    Returns:
        Shape (5,), or None where the quartic belongs to no pair.
    """
    place = 0.0
    for _ in range(_ROUNDS):
        here = _shifted(coefficients, place)
        if not (here[0] > 0.0 and here[4] >= 0.0 and abs(place) <= bound):
            return None
        b1, b2, b3, b4 = here[1:] / here[0]
        width = (0.5 * (b2 + np.hypot(b2, 2.0 * np.sqrt(b4)))) ** -0.5
        shape = b4 * width**4
        odd = (b1 + b3 * width**2) * width
        move = -odd / (2.0 + 2.0 * shape)
        place += float(np.clip(move, -0.5, 0.5)) * width
        if abs(move) < 1e-3:  # noqa: PLR2004 - a thousandth of the width is near enough for a start
            break
    half = 0.5 * place * unit_hz
    frequency_hz = half + np.hypot(half, middle_hz)
    level_db = -DB_PER_NEPER_OF_POWER * np.log(here[0])
    found = np.array([frequency_hz, np.log(width * unit_hz), shape, 0.5 * (b1 - b3 * width**2) * width, level_db])
    return found if np.all(np.isfinite(found)) else None


def _shifted(coefficients: Array, by: float) -> Array:
    """Coefficients of the same quartic about another point."""
    a0, a1, a2, a3, a4 = coefficients
    return np.array(
        [
            a0 + by * (a1 + by * (a2 + by * (a3 + by * a4))),
            a1 + by * (2.0 * a2 + by * (3.0 * a3 + 4.0 * a4 * by)),
            a2 + by * (3.0 * a3 + 6.0 * a4 * by),
            a3 + 4.0 * a4 * by,
            a4,
        ]
    )
