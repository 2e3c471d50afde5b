"""What a fitted curve says of its circuits: loaded Q and coupling, and what the trade calls it.

The inverse power of a pair, 1 + g u + (1 - s) u^2 - g u^3 + s u^4, has two roots above the real axis. Each is a circuit
of the stagger-tuned pair with this curve: real part where it is tuned, imaginary part its half width. Two coupled
circuits of equal Q have the same roots, apart by +-kQ half widths: that is the coupling reported.
"""

import cmath
import math

import numpy as np
from numpy.typing import NDArray

from sequences.numerics.figures import Estimate
from sequences.numerics.responses.candidates import Candidate
from sequences.numerics.responses.curves import (
    SKEWED_PAIR,
    SYMMETRICAL_PAIR,
    CoupledCans,
    Curve,
    EqualCircuits,
    Sloped,
)
from sequences.numerics.responses.edges import Figure

_LEAST_SHAPE = 1e-5
_APART = 1e-6
_ALIKE = 2.0
_CRITICAL_WITHIN_SIGMAS = 2.7
_COUPLING_TOO_VAGUE = 0.5


def loaded_q(candidate: Candidate) -> Figure | None:
    """Loaded Q of each circuit; that of the mean width for a pair. None where there is not one Q to speak of."""
    parameters = candidate.parameters
    own = candidate.curve.loaded_q(parameters)
    if own is not None:
        return Figure(*own)
    if not is_pair(candidate):
        return None
    roots, moves = _roots(candidate)
    if roots.imag.max() > _ALIKE * roots.imag.min():
        return None
    half_width = 0.5 * float(roots.imag.sum())
    value = parameters[0] / (math.exp(parameters[1]) * half_width)
    by_shape = -value / half_width * 0.5 * moves.imag.sum(axis=1)
    return Figure(value, np.concatenate(([value / parameters[0], -value], by_shape, [0.0])))


def coupling_squared(candidate: Candidate) -> Figure | None:
    """(kQ)^2 of two coupled circuits of equal Q with this curve; below zero if no coupling draws it, only unequal Q."""
    if not is_pair(candidate):
        return None
    roots, moves = _roots(candidate)
    apart, both = roots[0] - roots[1], float(roots.imag.sum())
    if both == 0.0:
        return None  # no losses at all: Q is without bound, and kQ means nothing
    value = float((apart**2).real) / both**2
    by_shape = (2.0 * (apart * (moves[:, 0] - moves[:, 1])).real / both - 2.0 * value * moves.imag.sum(axis=1)) / both
    return Figure(value, np.concatenate(([0.0, 0.0], by_shape, [0.0])))


def coupling(squared: Estimate) -> Estimate:
    """Take kQ from its square, with a sigma that stays finite where the coupling vanishes."""
    value = math.sqrt(max(squared.value, 0.0))
    return Estimate(value, math.sqrt(value * value + squared.sigma) - value)


def is_pair(candidate: Candidate) -> bool:
    """Whether the curve is that of two circuits, both within reach: a shape of nothing or less has lost the second."""
    return (
        _unsloped(candidate.curve) in (SYMMETRICAL_PAIR, SKEWED_PAIR) and float(candidate.parameters[2]) > _LEAST_SHAPE
    )


def _unsloped(curve: Curve) -> Curve:
    if isinstance(curve, CoupledCans):
        return SYMMETRICAL_PAIR
    return curve.base if isinstance(curve, Sloped) else curve


def kind_name(curve: Curve, squared: Estimate | None) -> str:
    """What the trade calls a fitted curve; squared is (kQ)^2 of a pair."""
    curve = _unsloped(curve)
    if squared is None or curve != SYMMETRICAL_PAIR or squared.sigma > _COUPLING_TOO_VAGUE:
        return curve.name if isinstance(curve, EqualCircuits) else curve.family
    if abs(squared.value - 1.0) < _CRITICAL_WITHIN_SIGMAS * squared.sigma:
        return "critically coupled pair"
    return "loosely coupled pair" if squared.value < 1.0 else "over-coupled pair"


def described(candidate: Candidate) -> str:
    """The kind in full, with the effects of time that were fitted along with it."""
    effects = candidate.effects
    along = ["meter lag"] * effects.lag + ["level drift"] * effects.drift
    return candidate.curve.name + (f" with {' and '.join(along)}" if along else "")


def _roots(candidate: Candidate) -> tuple[NDArray[np.complex128], NDArray[np.complex128]]:
    """The two roots above the real axis, and how they move with shape and skew; shapes (2,) and (1 or 2, 2).

    Where the roots fall together they are taken as a millionth apart: there they move infinitely fast, but their sum
    and the square of their difference do not.
    """
    shape = float(candidate.parameters[2])
    skew = float(candidate.parameters[3]) if _unsloped(candidate.curve) == SKEWED_PAIR else 0.0
    if skew == 0.0:
        apart = cmath.sqrt((1.0 - shape) ** 2 - 4.0 * shape)
        squares = (np.array([1.0, -1.0]) * apart - (1.0 - shape)) / (2.0 * shape)
        upper = 1j * np.sqrt(-squares.astype(complex))
    else:
        roots = np.roots([shape, -skew, 1.0 - shape, skew, 1.0])
        upper = roots[np.argsort(-roots.imag)[:2]]
    if abs(upper[0] - upper[1]) < _APART:
        upper = upper.mean() + np.array([0.5, -0.5]) * _APART
    slope = 4.0 * shape * upper**3 - 3.0 * skew * upper**2 + 2.0 * (1.0 - shape) * upper + skew
    moves = -np.array([upper**4 - upper**2, upper - upper**3]) / slope
    return upper, moves[: len(candidate.parameters) - 3]
