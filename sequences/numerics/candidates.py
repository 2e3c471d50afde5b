"""Every kind of curve fitted to the same readings, cheaply: each from a good start, and none that has no chance."""

from dataclasses import dataclass

import numpy as np

from sequences.numerics import starts
from sequences.numerics.curves import (
    EQUAL_CIRCUITS,
    FLAT_TOPS,
    SINGLE_CIRCUIT,
    SKEWED_PAIR,
    SYMMETRICAL_PAIR,
    Array,
    Curve,
)
from sequences.numerics.least_squares import Solution, least_squares
from sequences.numerics.readings import Readings

FINEST_NOISE_DB = 1e-3
"""No bench reads finer than this; without a floor, noise-free samples would call any misfit decisive."""

_HOPELESS = 60.0
"""A kind whose score is worse by this much is not worth a neighbour's try."""

_FAR_ABOVE_NOISE = 30.0
_WORSE = 6.0

# Width at 10 dB over width at 3 dB: a single circuit has 3, any cascade more than 1.82, a critical pair 1.73, flat tops
# of three poles and more less than 1.5. The bounds leave room for what noise does to the widths by eye.
_STEEPER_THAN_CASCADES = 1.5
_ROUNDER_THAN_FLAT_TOPS = 2.1
_STEEPNESS_BLURRED_DB = 0.8


@dataclass(frozen=True, slots=True)
class Candidate:
    """One kind of curve at its best.

    parameters: shape (p,). covariance: shape (p, p), with the noise as the residuals show it. residual_db: shape (n,),
    reading minus curve. score: the Bayesian information criterion with its small-sample correction; smaller is better.
    drift_db: how far the level moved from the first reading to the last, with its sigma, where that was fitted too.
    """

    curve: Curve
    parameters: Array
    covariance: Array
    residual_db: Array
    noise_db: float
    freedom: int
    cost: float
    score: float
    drift_db: float = 0.0
    drift_sigma_db: float = 0.0


def score(cost: float, readings: int, parameters: int, variants: int = 1) -> float:
    """Bayesian information criterion, corrected for few readings, with `variants` alike sharing one prior chance.

    The noise counts as a parameter too. G. Schwarz, Ann. Statist. 6 (1978) 461 (from memory); the correction
    n / (n - k - 1) is that of Hurvich and Tsai (1989) for AIC (from memory).
    """
    fitted = parameters + 1
    spare = readings - fitted - 1
    if spare <= 0:
        return np.inf
    noise = cost / readings + FINEST_NOISE_DB**2
    return (
        readings * float(np.log(noise)) + fitted * float(np.log(readings)) * readings / spare + 2.0 * np.log(variants)
    )


def fit_curve(
    curve: Curve, readings: Readings, start: Array, *, variants: int = 1, drift: bool = False, hopeless: float = np.inf
) -> Candidate:
    """Fit one kind of curve from one start, shape (p,); with `drift`, a level that moves evenly in time as well."""
    frequency, level, weight = readings.frequency_hz, readings.level_db, readings.weight
    column = weight[:, None]
    late = (readings.time - 0.5) * weight
    size = len(start)

    def plain(parameters: Array) -> tuple[Array, Array]:
        fitted, jacobian = curve.level_and_jacobian(parameters, frequency)
        return (fitted - level) * weight, jacobian * column

    def drifting(parameters: Array) -> tuple[Array, Array]:
        residual, jacobian = plain(parameters[:-1])
        return residual + parameters[-1] * late, np.column_stack((jacobian, late))

    solution = (
        least_squares(drifting, np.append(start, 0.0), hopeless=hopeless)
        if drift
        else least_squares(plain, start, hopeless=hopeless)
    )
    return _candidate(curve, readings, solution, size, variants)


def _candidate(curve: Curve, readings: Readings, solution: Solution, size: int, variants: int) -> Candidate:
    fitted = len(solution.parameters)
    freedom = len(readings) - fitted
    variance = max(solution.cost, 0.0) / max(freedom, 1)
    covariance = (
        solution.inverse_information() * variance if np.isfinite(variance) else np.full((fitted, fitted), np.inf)
    )
    drifting = fitted > size
    return Candidate(
        curve,
        solution.parameters[:size],
        covariance[:size, :size],
        -solution.residual / readings.weight,
        float(np.sqrt(variance)),
        freedom,
        solution.cost,
        score(solution.cost, len(readings), fitted, variants),
        float(solution.parameters[-1]) if drifting else 0.0,
        float(np.sqrt(covariance[-1, -1])) if drifting else 0.0,
    )


def fit_kinds(readings: Readings, rough: starts.Outline, *, drift: bool = False) -> list[Candidate]:
    """Fit every kind that has a chance, in no particular order."""
    fit = _Fitter(readings, rough, drift)
    fit.pairs()
    fit.equal_circuits()
    fit.flat_tops()
    return fit.found


class _Fitter:
    """Fits kind after kind to the same readings; what has been found tells what has no chance any more."""

    def __init__(self, readings: Readings, rough: starts.Outline, drift: bool) -> None:
        self.readings, self.rough, self.drift = readings, rough, drift
        self.found: list[Candidate] = []
        self.least_cost = len(readings) * _FAR_ABOVE_NOISE * (rough.noise_db**2 + FINEST_NOISE_DB**2)
        self.steepness = rough.steepness if rough.noise_db < _STEEPNESS_BLURRED_DB else None

    def fit(self, curve: Curve, start: Array, variants: int = 1) -> Candidate:
        hopeless = self.least_cost * float(np.exp(_HOPELESS / len(self.readings)))
        one = fit_curve(curve, self.readings, start, variants=variants, drift=self.drift, hopeless=hopeless)
        self.least_cost = min(self.least_cost, one.cost + FINEST_NOISE_DB**2 * len(self.readings))
        self.found.append(one)
        return one

    def pairs(self) -> None:
        """The skewed pair and the symmetrical one, each from the start of the other if it should be worse."""
        start = starts.pair(self.rough)
        symmetrical = self.fit(SYMMETRICAL_PAIR, np.delete(start, 3))
        skewed = self.fit(SKEWED_PAIR, start)
        if not skewed.cost <= symmetrical.cost:
            self.fit(SKEWED_PAIR, np.insert(symmetrical.parameters, 3, 0.0))

    def equal_circuits(self) -> None:
        """Cascades of one, two, three ... circuits, as long as one more fits better."""
        before = self.fit(SINGLE_CIRCUIT, starts.equal_circuits(self.rough, 1))
        if self.steepness is not None and self.steepness < _STEEPER_THAN_CASCADES:
            return
        for curve in EQUAL_CIRCUITS[1:]:
            here = self.fit(curve, starts.equal_circuits(self.rough, curve.count), len(EQUAL_CIRCUITS) - 1)
            if here.score > before.score:
                return
            before = here

    def flat_tops(self) -> None:
        """Filters of three, four, five ... poles, as long as one more fits better."""
        if self.steepness is not None and self.steepness > _ROUNDER_THAN_FLAT_TOPS:
            return
        place = np.array([self.rough.top_hz, np.log(self.rough.width_hz)])
        least = np.inf
        for curve in FLAT_TOPS:
            here = self.fit(curve, starts.flat_top(self.readings, curve, place), len(FLAT_TOPS))
            if here.score > least + _WORSE:
                return
            place, least = here.parameters[:2], min(least, here.score)
