"""What a fitted curve says of its circuits: loaded Q and coupling, and what the trade calls it.

The inverse power of a pair, 1 + g u + (1 - s) u^2 - g u^3 + s u^4, has two roots above the real axis. Each is a circuit
of the stagger-tuned pair with this curve: real part where it is tuned, imaginary part its half width. Two coupled
circuits of equal Q have the same roots, apart by +-kQ half widths: that is the coupling reported.
"""

import math

import numpy as np

from sequences.numerics.candidates import Candidate
from sequences.numerics.curves import (
    SKEWED_PAIR,
    SYMMETRICAL_PAIR,
    Curve,
    EqualCircuits,
    FlatTop,
    Lopsided,
    StaggeredCircuits,
)
from sequences.numerics.edges import Figure
from sequences.numerics.figures import Estimate

_STEP = 1e-6
_CRITICAL_WITHIN_SIGMAS = 2.7
_COUPLING_TOO_VAGUE = 0.5


def loaded_q(candidate: Candidate) -> Figure | None:
    """Loaded Q of each circuit; the mean of both widths for a pair. None where the curve is not one of circuits."""
    curve, parameters = candidate.curve, candidate.parameters
    gradient = np.zeros_like(parameters)
    if isinstance(curve, EqualCircuits):
        value = parameters[0] / math.exp(parameters[1]) * math.sqrt(2.0 ** (1.0 / curve.count) - 1.0)
        gradient[:2] = value / parameters[0], -value
        return Figure(value, gradient)
    if not is_pair(curve) or not _has_roots(candidate):
        return None
    shape = _shape_and_skew(candidate)
    half_width, _ = _roots(*shape)
    value = parameters[0] / (math.exp(parameters[1]) * half_width)
    gradient[:2] = value / parameters[0], -value
    for index in range(len(parameters) - 3):
        moved = np.array(shape)
        moved[index] += _STEP
        gradient[2 + index] = -value * (_roots(*moved)[0] - half_width) / (_STEP * half_width)
    return Figure(value, gradient)


def coupling_squared(candidate: Candidate) -> Figure | None:
    """(kQ)^2 of two coupled circuits of equal Q with this curve; below zero if no coupling draws it, only unequal Q."""
    if not is_pair(candidate.curve) or not _has_roots(candidate):
        return None
    shape = _shape_and_skew(candidate)
    value = _roots(*shape)[1]
    gradient = np.zeros_like(candidate.parameters)
    for index in range(len(candidate.parameters) - 3):
        moved = np.array(shape)
        moved[index] += _STEP
        gradient[2 + index] = (_roots(*moved)[1] - value) / _STEP
    return Figure(value, gradient)


def coupling(squared: Estimate) -> Estimate:
    """Take kQ from its square, with a sigma that stays finite where the coupling vanishes."""
    value = math.sqrt(max(squared.value, 0.0))
    return Estimate(value, math.sqrt(value * value + squared.sigma) - value)


def is_pair(curve: Curve) -> bool:
    """Whether the curve is that of two circuits."""
    return isinstance(curve, StaggeredCircuits) and curve.count == 2  # noqa: PLR2004 - a pair


def kind_name(curve: Curve, squared: Estimate | None) -> str:
    """What the trade calls a fitted curve; squared is (kQ)^2 of a pair."""
    if squared is None or curve != SYMMETRICAL_PAIR or squared.sigma > _COUPLING_TOO_VAGUE:
        return curve.name if isinstance(curve, EqualCircuits) else family(curve)
    if abs(squared.value - 1.0) < _CRITICAL_WITHIN_SIGMAS * squared.sigma:
        return "critically coupled pair"
    return "loosely coupled pair" if squared.value < 1.0 else "over-coupled pair"


def family(curve: Curve) -> str:
    """The kind without its fine distinctions: how many circuits or poles, how tightly coupled."""
    if isinstance(curve, Lopsided):
        return family(curve.base)
    if isinstance(curve, FlatTop):
        return "flat-topped filter"
    if isinstance(curve, EqualCircuits) and curve.count > 1:
        return "cascade of equal circuits"
    return curve.name


def described(candidate: Candidate) -> str:
    """The kind in full, with the effects of time that were fitted along with it."""
    effects = candidate.effects
    along = ["meter lag"] * effects.lag + ["level drift"] * effects.drift
    return candidate.curve.name + (f" with {' and '.join(along)}" if along else "")


def _shape_and_skew(candidate: Candidate) -> tuple[float, float]:
    shape = float(candidate.parameters[2])
    return shape, float(candidate.parameters[3]) if candidate.curve == SKEWED_PAIR else 0.0


def _has_roots(candidate: Candidate) -> bool:
    return float(candidate.parameters[2]) > 10.0 * _STEP


def _roots(shape: float, skew: float) -> tuple[float, float]:
    """Mean half width of the two roots over half the 3 dB width at f0, and (kQ)^2."""
    roots = np.roots([shape, -skew, 1.0 - shape, skew, 1.0])
    first, second = roots[np.argsort(-roots.imag)[:2]]
    both = float(first.imag + second.imag)
    return 0.5 * both, float(((first - second) ** 2).real) / both**2
