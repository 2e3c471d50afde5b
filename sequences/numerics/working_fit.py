"""The fit while a scan runs: the kinds of curve that lead, carried along from reading to reading.

All kinds are compared only now and then (`passband.fit_passband`). In between, those that lead take one Gauss-Newton
step for each new reading, which from so near is as good as a new fit and costs a tenth of a millisecond.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sequences.numerics.candidates import FINEST_NOISE_DB, Candidate, score
from sequences.numerics.curves import Array
from sequences.numerics.design_criterion import variances
from sequences.numerics.least_squares import inverse_information
from sequences.numerics.model_choice import Weighed, figures_of_candidate, weigh
from sequences.numerics.readings import Readings

_LONGEST_STEP = 0.5
"""Of a width: a step that goes further is not one of refinement."""

_STOPPING_BY_LUCK = 4.0


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


def refined(candidate: Candidate, readings: Readings) -> Candidate | None:
    """Carry a fitted curve over to more readings; None where it needs a fit from the start."""
    curve, before = candidate.curve, candidate.parameters
    level, jacobian = curve.level_and_jacobian(before, readings.frequency_hz)
    weighted = jacobian * readings.weight[:, None]
    residual = (readings.level_db - level) * readings.weight
    inverse = inverse_information(weighted)
    if not (np.all(np.isfinite(inverse)) and np.all(np.isfinite(residual))):
        return None
    pull = weighted.T @ residual
    step = inverse @ pull
    width = float(np.exp(before[1]))
    if max(abs(step[0]) / width, abs(step[1])) > _LONGEST_STEP:
        return None
    cost = max(float(residual @ residual - pull @ step), 0.0)
    freedom = len(readings) - len(before)
    variance = max(cost / max(freedom, 1), FINEST_NOISE_DB**2)
    return replace(
        candidate,
        parameters=before + step,
        covariance=inverse * variance,
        residual_db=(residual - weighted @ step) / readings.weight,
        noise_db=float(np.sqrt(variance)),
        freedom=freedom,
        cost=cost,
        score=score(cost, len(readings), len(before)) + _handicap(candidate),
    )


def _handicap(candidate: Candidate) -> float:
    """What the comparison of all kinds added to the bare score, for a kind that comes in several variants."""
    return candidate.score - score(candidate.cost, len(candidate.residual_db), len(candidate.parameters))


def leaders(candidates: Sequence[Candidate], prior: PriorNoise, start_hz: float, stop_hz: float) -> tuple[Leader, ...]:
    """Weigh fitted curves against each other and find how their centre and width depend on their parameters."""
    return tuple(_leader(each, prior, start_hz, stop_hz) for each in weigh(candidates))


def _leader(weighed: Weighed, prior: PriorNoise, start_hz: float, stop_hz: float) -> Leader:
    candidate = weighed.candidate
    found = figures_of_candidate(candidate, start_hz, stop_hz)
    if "centre" in found:
        values = np.array([found["centre"].value, found["width_3db"].value])
        gradients = np.array([found["centre"].gradient, found["width_3db"].gradient])
    else:
        width = float(np.exp(candidate.parameters[1]))
        values = np.array([candidate.parameters[0], width])
        gradients = np.zeros((2, len(candidate.parameters)))
        gradients[0, 0], gradients[1, 1] = 1.0, width
    return Leader(candidate, weighed.share, values, gradients, candidate.covariance * _caution(candidate, prior))


def _caution(candidate: Candidate, prior: PriorNoise) -> float:
    """By how much to widen the variance that the residuals show.

    A scan that stops as soon as its noise looks small enough stops too early by luck. Against that stand a little
    prior noise, and a share of four readings' worth, which on average makes good what stopping by luck costs (found
    by simulation; the effect is that of Y. S. Chow and H. Robbins, Ann. Math. Statist. 36 (1965) 457, from memory).
    """
    seen = max(candidate.freedom, 0)
    weight = prior.readings + seen
    variance = (prior.readings * prior.noise_db**2 + seen * candidate.noise_db**2) / weight
    return variance * (1.0 + _STOPPING_BY_LUCK / weight) / candidate.noise_db**2


def shares_of_variance(found: Sequence[Leader], tolerances: Array) -> Array:
    """The variance of centre and width as shares of the variance asked for, over all leading kinds; shape (2,).

    The variance under each kind counts by the kind's share, and so does how far the kinds disagree.

    Args:
        found: The leading kinds.
        tolerances: Shape (2,), asked-for one sigma of centre and width as fractions of the width.
    """
    share = np.array([leader.share for leader in found])[:, None]
    figures = np.array([leader.figures for leader in found])
    within = np.array([variances(leader.covariance, leader.gradients) for leader in found])
    mean = np.sum(share * figures, axis=0)
    variance = np.sum(share * (within + (figures - mean) ** 2), axis=0)
    return np.asarray(variance / (tolerances * mean[1]) ** 2)
