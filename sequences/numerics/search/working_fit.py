"""The fit while a scan runs: the kinds of curve that lead, carried along from reading to reading.

All kinds are compared only now and then (`passband.fit_passband`). In between, those that lead take one Gauss-Newton
step for each new reading, which from so near is as good as a new fit and costs a tenth of a millisecond.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sequences.numerics.arrays import Array
from sequences.numerics.least_squares import inverse_information
from sequences.numerics.responses.candidates import FINEST_NOISE_DB, Candidate, score
from sequences.numerics.responses.edges import Figure
from sequences.numerics.responses.model_choice import Weighed, weigh_with_figures
from sequences.numerics.responses.readings import Readings
from sequences.numerics.responses.smooth_curve import SmoothCurve

_LONGEST_STEP = 0.5
"""Of a width: a step that goes further is not one of refinement."""

_NO_WORSE = 1.0 + 1e-6
"""A step of refinement lowers the sum of squares; rounding may raise it by so little."""

_STOPPING_BY_LUCK = 8.0


@dataclass(frozen=True, slots=True)
class Leader:
    """A kind of curve that the readings allow, and how the two wanted figures depend on its parameters.

    figures: shape (2,), centre and 3 dB width in Hz; where an edge lies outside the span the curve's own frequency
    and width stand in. gradients: shape (2, p). covariance: shape (p, p), with the noise as cautiously as it is known.
    """

    candidate: Candidate
    share: float
    figures: Array
    gradients: Array
    covariance: Array


@dataclass(frozen=True, slots=True)
class PriorNoise:
    """What is held of the reading noise before any reading: worth `readings` readings at `noise_db`."""

    noise_db: float
    readings: float


def modelled(candidate: Candidate, readings: Readings) -> tuple[Array, Array]:
    """What a fitted curve, with the effects of time fitted along with it, says of each reading.

    Returns:
        The level, shape (n,), and its derivative by the curve's parameters and those of the effects, shape (n, p + q).
    """
    level, jacobian = candidate.curve.level_and_jacobian(candidate.parameters, readings.frequency_hz)
    if not candidate.extra.size:
        return level, jacobian
    return candidate.effects.apply(readings, level, jacobian, candidate.extra)


def refined(candidate: Candidate, readings: Readings) -> Candidate | None:
    """Carry a fitted curve over to more readings; None where it needs a fit from the start, as a spline always does."""
    if isinstance(candidate.curve, SmoothCurve):
        return None
    before, size = np.concatenate((candidate.parameters, candidate.extra)), len(candidate.parameters)
    level, jacobian = modelled(candidate, readings)
    weighted = jacobian * readings.weight[:, None]
    residual = (readings.level_db - level) * readings.weight
    inverse = inverse_information(weighted)
    if not (np.all(np.isfinite(inverse)) and np.all(np.isfinite(residual))):
        return None
    pull = weighted.T @ residual
    step = inverse @ pull
    if max(abs(step[0]) / candidate.curve.place(before[:size])[1], abs(step[1])) > _LONGEST_STEP:
        return None
    moved = replace(candidate, parameters=before[:size] + step[:size], extra=before[size:] + step[size:])
    left = readings.level_db - modelled(moved, readings)[0]
    cost = float(np.sum((left * readings.weight) ** 2))
    if not cost <= float(residual @ residual) * _NO_WORSE:
        return None
    freedom = len(readings) - len(before)
    variance = max(cost / max(freedom, 1), FINEST_NOISE_DB**2)
    return replace(
        moved,
        covariance=inverse[:size, :size] * variance,
        residual_db=left,
        design=weighted.T,
        noise_db=float(np.sqrt(variance)),
        freedom=freedom,
        cost=cost,
        score=score(cost, len(readings), len(before)) + _handicap(candidate),
        extra_sigma=np.sqrt(np.diag(inverse)[size:] * variance),
    )


def _handicap(candidate: Candidate) -> float:
    """What the comparison of all kinds added to the bare score, for a kind that comes in several variants."""
    fitted = len(candidate.parameters) + len(candidate.extra)
    return candidate.score - score(candidate.cost, len(candidate.residual_db), fitted)


def leaders(candidates: Sequence[Candidate], prior: PriorNoise, start_hz: float, stop_hz: float) -> tuple[Leader, ...]:
    """Weigh fitted curves against each other and find how their centre and width depend on their parameters.

    Curves without a real level all over the span are left out.
    """
    sure = [each for each in candidates if np.all(np.isfinite(each.covariance))]
    return tuple(_leader(each, found, prior) for each, found in weigh_with_figures(sure, start_hz, stop_hz))


def _leader(weighed: Weighed, found: dict[str, Figure], prior: PriorNoise) -> Leader:
    candidate = weighed.candidate
    if "centre" in found:
        values = np.array([found["centre"].value, found["width_3db"].value])
        gradients = np.array([found["centre"].gradient, found["width_3db"].gradient])
    else:
        values = np.array(candidate.curve.place(candidate.parameters))
        gradients = np.zeros((2, len(candidate.parameters)))
        gradients[0, 0], gradients[1, 1] = 1.0, values[1]
    return Leader(candidate, weighed.share, values, gradients, candidate.covariance * _caution(candidate, prior))


def _caution(candidate: Candidate, prior: PriorNoise) -> float:
    """By how much to widen the variance that the residuals show.

    A scan that stops as soon as its noise looks small enough stops too early by luck. Against that stand a little
    prior noise, and some readings' worth of variance, which on average makes good what stopping by luck costs (found
    by simulation; the effect is that of Y. S. Chow and H. Robbins, Ann. Math. Statist. 36 (1965) 457, from memory).
    """
    seen = max(candidate.freedom, 0)
    weight = prior.readings + seen
    shown = max(candidate.noise_db, FINEST_NOISE_DB) ** 2
    variance = (prior.readings * prior.noise_db**2 + seen * shown) / weight
    return variance * (1.0 + _STOPPING_BY_LUCK / weight) / shown


def shares_of_variance(found: Sequence[Leader], tolerances: Array) -> Array:
    """The variance of centre and width as shares of the variance asked for, over all leading kinds; shape (2,).

    The variance under each kind counts by the kind's share, and so does how far the kinds disagree.

    Args:
        found: The leading kinds.
        tolerances: Shape (2,), asked-for one sigma of centre and width as fractions of the width.
    """
    share = np.array([leader.share for leader in found])[:, None]
    figures = np.array([leader.figures for leader in found])
    within = np.array([np.einsum("ki,ij,kj->k", one.gradients, one.covariance, one.gradients) for one in found])
    mean = np.sum(share * figures, axis=0)
    variance = np.sum(share * (within + (figures - mean) ** 2), axis=0)
    return np.asarray(variance / (tolerances * mean[1]) ** 2)
