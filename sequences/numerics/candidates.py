"""Every kind of curve fitted to the same readings, cheaply: each from a good start, and none that has no chance."""

from dataclasses import dataclass

import numpy as np

from sequences.numerics import starts
from sequences.numerics.curves import (
    EQUAL_CIRCUITS,
    FLAT_TOPS,
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

_SHAPE_OF_BUTTERWORTH = 0.3
_SHAPE_LIMITS = {"coupled pair": (-0.2, 5.82), "skewed pair": (-0.2, np.inf)}
_FLAT_SHAPE_LIMITS = (-2.0, 0.98)


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


def fit_curve(curve: Curve, readings: Readings, start: Array, *, variants: int = 1, drift: bool = False) -> Candidate:
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

    solution = least_squares(drifting, np.append(start, 0.0)) if drift else least_squares(plain, start)
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
        score(solution.cost, len(readings), fitted, variants),
        float(solution.parameters[-1]) if drifting else 0.0,
        float(np.sqrt(covariance[-1, -1])) if drifting else 0.0,
    )


def fit_kinds(readings: Readings, rough: starts.Outline, *, drift: bool = False) -> list[Candidate]:
    """Fit every kind that has a chance, in no particular order."""
    found = [*_equal_circuits(readings, rough, drift), *_pairs(readings, rough, drift)]
    return [*found, *_flat_tops(readings, rough, drift)]


def _equal_circuits(readings: Readings, rough: starts.Outline, drift: bool) -> list[Candidate]:
    """Cascades of one, two, three ... circuits, as long as one more fits better."""
    found: list[Candidate] = []
    for curve in EQUAL_CIRCUITS:
        variants = 1 if curve.count == 1 else len(EQUAL_CIRCUITS) - 1
        found.append(
            fit_curve(curve, readings, starts.equal_circuits(rough, curve.count), variants=variants, drift=drift)
        )
        if len(found) > 1 and found[-1].score > found[-2].score:
            break
    return found


def _pairs(readings: Readings, rough: starts.Outline, drift: bool) -> list[Candidate]:
    start = starts.pair(rough)
    skewed = fit_curve(SKEWED_PAIR, readings, start, drift=drift)
    symmetrical = fit_curve(SYMMETRICAL_PAIR, readings, np.delete(start, 3), drift=drift)
    if not skewed.score < symmetrical.score + _HOPELESS:
        skewed = fit_curve(SKEWED_PAIR, readings, np.insert(symmetrical.parameters, 3, 0.0), drift=drift)
    return [symmetrical, skewed]


def _flat_tops(readings: Readings, rough: starts.Outline, drift: bool) -> list[Candidate]:
    """Filters of three, four, five ... poles, as long as one more fits better and the first has a chance."""
    found: list[Candidate] = []
    start = np.array([rough.top_hz, np.log(rough.width_hz), _SHAPE_OF_BUTTERWORTH, rough.top_db])
    for curve in FLAT_TOPS:
        found.append(fit_curve(curve, readings, start, variants=len(FLAT_TOPS), drift=drift))
        start = found[-1].parameters
        if len(found) > 1 and found[-1].score > found[-2].score:
            break
    return found
