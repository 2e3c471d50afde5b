"""One kind of curve fitted to readings, with what is needed to compare it with others."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sequences.numerics.arrays import Array
from sequences.numerics.least_squares import Solution, least_squares
from sequences.numerics.responses.curves import Curve
from sequences.numerics.responses.readings import Readings
from sequences.numerics.responses.time_order import Effects

FINEST_NOISE_DB = 5e-3
"""No bench reads finer than this; without a floor, noise-free samples would call any misfit decisive."""

PLAIN = Effects()

_CLOSE = 1e-3
"""Squared length of the last step of a fit over the variance: what it leaves undone is far smaller still."""

_CLOSE_WHEN_NEAR = 1.0
"""The same where the start is near: within a sigma of the bottom a curve is as good as straight."""

_NEGLIGIBLE = 1e-3 * FINEST_NOISE_DB**2
_LEAST_VARIANCE = 1e-24
_STRUCTURE_SIGMAS = 3.5
_PRICE_OF_PARAMETER = 2.5

LEAST_SHARE = 0.03
"""A kind with less of the evidence than this is left out."""

SHARPNESS = 2.0
"""How much faster than the likelihood the share goes over from one kind of a family to another."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """One kind of curve at its best.

    parameters: shape (p,). covariance: shape (p, p), with the noise as the residuals show it. residual_db: shape (n,),
    reading minus curve. design: shape (p + q, n), derivative of each weighted reading by each parameter, taken no
    further from the best than a sigma. freedom: degrees of freedom left. cost: weighted sum of squared residuals.
    score: the Bayesian information criterion with its small-sample correction; smaller is better. effects: what was
    fitted along with the curve, extra and extra_sigma, shape (q,), how much of each. slow: whether part of
    its noise is slow. top_sigma_db: by what the level of its top is uncertain beside all that. cut_db: how much of its
    top the readings lack because something limits.
    """

    curve: Curve
    parameters: Array
    covariance: Array
    residual_db: Array
    design: Array
    noise_db: float
    freedom: int
    cost: float
    score: float
    effects: Effects
    extra: Array
    extra_sigma: Array
    slow: bool = False
    top_sigma_db: float = 0.0
    cut_db: float = 0.0

    @property
    def settled(self) -> bool:
        """Whether the fit came to rest: where it did not, the readings pull the curve beyond what its kind can draw."""
        return math.isfinite(self.covariance[0, 0])

    @property
    def misfit(self) -> float:
        """The score without what the parameters cost: minus twice the log of the likelihood."""
        count = len(self.residual_db)
        return count * math.log(self.cost / count + FINEST_NOISE_DB**2)

    @property
    def handicap(self) -> float:
        """What was added to the bare score because the kind was less likely beforehand."""
        return self.score - score(self.cost, len(self.residual_db), len(self.parameters) + len(self.extra))

    def less_likely(self, penalty: float) -> "Candidate":
        """The same, with its score raised because it was less likely beforehand."""
        return replace(self, score=self.score + penalty)


def score(cost: float, readings: int, parameters: int) -> float:
    """Bayesian information criterion, corrected for few readings.

    The noise counts as a parameter too. G. Schwarz, Ann. Statist. 6 (1978) 461 (from memory); the correction
    n / (n - k - 1) is that of Hurvich and Tsai (1989) for AIC (from memory).
    """
    fitted = parameters + 1
    spare = readings - fitted - 1
    if spare <= 0 or not math.isfinite(cost):
        return np.inf
    noise = cost / readings + FINEST_NOISE_DB**2
    return readings * math.log(noise) + fitted * math.log(readings) * readings / spare


def price_within(readings: int, parameters: int) -> float:
    """What parameters cost within a family of kinds, where one is another with a parameter more."""
    return _PRICE_OF_PARAMETER * parameters * readings / max(readings - parameters - 2, 1)


def least_gain(readings: int, fewer: int, more: int) -> float:
    """By how much -2 ln likelihood must fall for a larger kind of a family not to be negligible."""
    return price_within(readings, more) - price_within(readings, fewer) + math.log(LEAST_SHARE) / (0.5 * SHARPNESS)


def fit_curve(
    curve: Curve,
    readings: Readings,
    start: Array,
    *,
    effects: Effects = PLAIN,
    hopeless: float = np.inf,
    near: bool = False,
    known: tuple[Array, Array] | None = None,
) -> Candidate:
    """Fit one kind of curve from one start, shape (p,).

    Args:
        curve: The kind.
        readings: What to fit.
        start: Shape (p,).
        effects: Effects of time to fit along with it.
        hopeless: Give up where the weighted sum of squares is not on its way below this.
        near: Whether the start is so near that this shows at once.
        known: What the readings' weighted residuals and their jacobian are at the start, if that is known already.
    """
    frequency, level, weight, size = readings.frequency_hz, readings.level_db, readings.weight, len(start)
    column = weight[:, None] if weight.min() < weight.max() else None

    def plain(parameters: Array) -> tuple[Array, Array]:
        fitted, jacobian = curve.level_and_jacobian(parameters, frequency)
        return weigh(fitted - level, jacobian)

    def in_time(parameters: Array) -> tuple[Array, Array]:
        true, jacobian = curve.level_and_jacobian(parameters[:size], frequency)
        fitted, jacobian = effects.apply(readings, true, jacobian, parameters[size:])
        return weigh(fitted - level, jacobian)

    def weigh(off: Array, jacobian: Array) -> tuple[Array, Array]:
        return (off, jacobian) if column is None else (off * weight, jacobian * column)

    extra = effects.start()
    model, first = (in_time, np.concatenate((start, extra))) if extra else (plain, start)
    solution = least_squares(
        model,
        first,
        tolerance=_CLOSE_WHEN_NEAR if near else _CLOSE,
        negligible=_NEGLIGIBLE,
        hopeless=hopeless,
        near=near,
        known=known,
    )
    return _candidate(curve, readings, solution, size, effects)


def _candidate(curve: Curve, readings: Readings, solution: Solution, size: int, effects: Effects) -> Candidate:
    fitted = len(solution.parameters)
    freedom = len(readings) - fitted
    variance = solution.cost / max(freedom, 1)
    covariance = solution.inverse_information * max(variance, _LEAST_VARIANCE)
    return Candidate(
        curve,
        solution.parameters[:size],
        covariance[:size, :size],
        -solution.residual / readings.weight,
        solution.jacobian.T,
        math.sqrt(max(variance, 0.0)),
        freedom,
        solution.cost,
        score(solution.cost, len(readings), fitted),
        effects,
        solution.parameters[size:],
        np.sqrt(covariance.diagonal()[size:]),
    )


def significance(candidate: Candidate, readings: Readings, column: Array) -> tuple[float, float]:
    """Size and sigma of a further linear effect, shape (n,), on top of a fitted curve: a score test, no new fit."""
    from scipy.linalg.lapack import dposv  # noqa: PLC0415 - keeps scipy out of the start of every command

    design = np.concatenate((candidate.design, (column * readings.weight)[None, :]))
    residual = candidate.residual_db * readings.weight
    information = design @ design.T
    length = np.sqrt(information.diagonal()) + _LEAST_VARIANCE
    pulls = np.zeros((len(length), 2))
    pulls[:, 0] = (design @ residual) / length
    pulls[-1, 1] = 1.0
    _, found, failed = dposv(information / (length[:, None] * length), pulls)
    if failed:
        return 0.0, np.inf
    left = residual - (found[:, 0] / length) @ design
    variance = float(left @ left) / max(len(residual) - len(design), 1) + FINEST_NOISE_DB**2
    return float(found[-1, 0] / length[-1]), float(np.sqrt(variance * found[-1, 1])) / float(length[-1])


class NoCurveError(Exception):
    """No kind of curve has a finite level at every reading, as where these lie a hundred decades apart."""


def best_of(candidates: Sequence[Candidate]) -> Candidate:
    """The one with the least score, of those that came to rest if any did.

    Raises:
        NoCurveError: If there is none.
    """
    if not candidates:
        raise NoCurveError
    return min(candidates, key=lambda one: (not one.settled, one.score))


def likeness_of_neighbours(candidate: Candidate, readings: Readings) -> float:
    """Correlation of what neighbouring readings leave over, less what the fit itself makes of pure noise."""
    off = candidate.residual_db * readings.weight
    count = len(off)
    return float(off[1:] @ off[:-1]) / max(float(off @ off), _LEAST_VARIANCE) + (count - candidate.freedom) / count


def has_structure(candidate: Candidate, readings: Readings) -> bool:
    """Whether neighbouring readings stand off the curve to the same side more than noise lets them."""
    if candidate.cost <= len(readings) * FINEST_NOISE_DB**2:
        return False
    return bool(likeness_of_neighbours(candidate, readings) * len(readings) ** 0.5 > _STRUCTURE_SIGMAS)
