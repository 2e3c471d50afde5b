"""The inverse power of circuits is a polynomial in detuning: from its coefficients to the parameters of a curve."""

import math
from itertools import accumulate, repeat
from operator import mul

import numpy as np

from sequences.numerics.arrays import Array
from sequences.numerics.responses.curves import DB_PER_NEPER_OF_POWER

_ROUNDS = 12
_NEAR_ENOUGH = 1e-3
_BEYOND_CIRCUITS = 1e4
_INNER_ROUNDS = 30


def circuits_of_polynomial(
    coefficients: Array, middle_hz: float, unit_hz: float, bound: float = np.inf
) -> Array | None:
    """Parameters of skewed `curves.StaggeredCircuits` close to an inverse power given in narrow-band detuning.

    Args:
        coefficients: Shape (2 count + 1,), lowest power first, in (f - middle_hz^2 / f) / unit_hz.
        middle_hz: Where the detuning is zero.
        unit_hz: Its unit.
        bound: The middle of the curve may not lie further out than this.

    Returns:
        Shape (2 count + 1,), or None where no circuits have this inverse power.
    """
    place, width = 0.0, 1.0
    scaled = given = coefficients.tolist()
    for _ in range(_ROUNDS):
        here = _shifted(given, place)
        if not (here[0] > 0.0 and abs(place) <= bound):
            return None
        here = [each / here[0] for each in here]
        width = _half_power_width(here)
        if not width > 0.0:
            return None
        scaled = [each * power for each, power in zip(here, accumulate(repeat(width), mul, initial=1.0), strict=False)]
        slope = 2.0 * sum(power * each for power, each in enumerate(scaled[2::2], start=1))
        move = -sum(scaled[1::2]) / slope if slope else math.inf
        place += min(max(move, -0.5), 0.5) * width
        if abs(move) < _NEAR_ENOUGH:
            break
    half = 0.5 * place * unit_hz
    frequency_hz = half + math.hypot(half, middle_hz)
    at_middle = _shifted(given, place)[0]
    if not at_middle > 0.0:
        return None
    level_db = -DB_PER_NEPER_OF_POWER * math.log(at_middle)
    skews = [-each for each in scaled[3::2]]
    found = np.array([frequency_hz, math.log(width * unit_hz), *scaled[4::2], *skews, level_db])
    return found if max(map(abs, scaled)) < _BEYOND_CIRCUITS else None


def _shifted(coefficients: list[float], by: float) -> list[float]:
    """Coefficients of the same polynomial about another point (repeated synthetic division)."""
    found = list(coefficients)
    for start in range(len(found) - 1):
        for index in range(len(found) - 2, start - 1, -1):
            found[index] += by * found[index + 1]
    return found


def _half_power_width(coefficients: list[float]) -> float:
    """Outermost detuning at which the even part of an inverse power that is 1 at zero is 2; nought if there is none.

    Newton's method in the square of the detuning, from beyond the largest root (Fujiwara's bound, from memory).
    """
    even = [-1.0, *coefficients[2::2]]
    degree = len(even) - 1
    if not even[-1] > 0.0:
        return 0.0
    square = 2.0 * max(abs(even[k] / even[-1]) ** (1.0 / (degree - k)) for k in range(degree))
    for _ in range(_INNER_ROUNDS):
        value = slope = 0.0
        for coefficient in reversed(even):
            slope = slope * square + value
            value = value * square + coefficient
        if not slope > 0.0:
            return 0.0
        square -= value / slope
        if abs(value) < 1e-6 * slope * square:
            break
    return math.sqrt(max(square, 0.0))
