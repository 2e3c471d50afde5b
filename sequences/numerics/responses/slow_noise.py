"""Slow noise: readings that err alike because they were taken one after another tell less than independent ones.

Over a sweep, noise with a spectrum of 1/f is alike between readings as 1 - log(1 + steps apart). How much of the noise
is of that kind is found by the likelihood of what the fitted curves leave over. Then each is fitted again, in one step
of generalised least squares (A. C. Aitken, Proc. R. Soc. Edinburgh 55 (1935) 42, from memory).
"""

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from sequences.numerics.arrays import Array
from sequences.numerics.responses.candidates import FINEST_NOISE_DB, Candidate, score
from sequences.numerics.responses.readings import Readings

_PARTS = (0.0, 0.1, 0.2, 0.35, 0.5, 0.7, 0.85, 0.95)
_NO_CHANCE = 5.0
_MANY = 6
_CIRCUITS_BEFOREHAND = 12.0
"""Curves of many parameters follow slow noise as well as any: so much less likely are they than a pair with it."""

_PERHAPS = 1.3
"""Likeness of neighbours in time, in its own sigmas, below which no kind shows slow noise."""

_LEAST_READINGS = 24
_MOST_READINGS = 400
_LIKELY = 60.0
"""By how much worse than the best a kind may score without slow noise, and yet be the best with it."""


@dataclass(frozen=True, slots=True)
class SlowNoise:
    """What slow noise there is: `sigma_db` is one sigma of it.

    lead: by how much the best kind with it scores better than the best without. candidates: the kinds, fitted with it.
    """

    sigma_db: float
    lead: float
    candidates: list[Candidate]


def shown_by(readings: Readings, candidates: list[Candidate]) -> SlowNoise | None:
    """Fit the kinds again with slow noise; None where noise that is white explains the readings far better."""
    count, least = len(readings), min((one.score for one in candidates), default=math.inf)
    likely = [one for one in candidates if one.settled and one.freedom > 1 and one.score < least + _LIKELY]
    if not likely or not _LEAST_READINGS <= count <= _MOST_READINGS:
        return None
    if min(one.noise_db for one in likely) < FINEST_NOISE_DB or any(len(one.residual_db) != count for one in likely):
        return None
    order = np.argsort(readings.time, kind="stable")
    weight = readings.weight[order]
    alike = max(_likeness((one.residual_db[order] * weight), one.freedom) for one in likely)
    if alike * math.sqrt(count) < _PERHAPS:
        return None
    found = [[_refitted(one, order, weight, part) for part in _PARTS] for one in likely]
    least_by_part = [min(each[at].score for each in found) for at in range(len(_PARTS))]
    at = 1 + int(np.argmin(least_by_part[1:]))
    lead = least_by_part[0] - least_by_part[at]
    if lead < -_NO_CHANCE:
        return None
    if min(likely, key=lambda one: one.score).freedom < count - _MANY:
        found = [[one.less_likely(-_CIRCUITS_BEFOREHAND) for one in each] for each in found]
        lead += _CIRCUITS_BEFOREHAND
    refitted = [each[at] for each in found]
    best = min(refitted, key=lambda one: one.score)
    return SlowNoise(best.noise_db * math.sqrt(_PARTS[at]), lead, refitted)


def _likeness(off: Array, freedom: int) -> float:
    """Mean correlation of readings one and two apart in time, less what the fit itself makes of white noise."""
    near = 0.5 * float(off[1:] @ off[:-1] + off[2:] @ off[:-2])
    return near / max(float(off @ off), 1e-24) + (len(off) - freedom) / len(off)


def _refitted(
    one: Candidate, order: np.ndarray[tuple[int], np.dtype[np.intp]], weight: Array, part: float
) -> Candidate:
    """One kind fitted with so large a part of the noise slow."""
    spread, turn = _slow_ways(len(order))
    variance = (1.0 - part) + part * spread
    white = turn.T / np.sqrt(variance)[:, None]
    off, design = white @ (one.residual_db[order] * weight), white @ one.design[:, order].T
    length = np.sqrt(np.einsum("ij,ij->j", design, design))
    inverse = np.linalg.pinv(design / length, rcond=1e-12)
    step = inverse @ off / length
    left = off - design @ step
    scale = float(left @ left) / one.freedom
    covariance = scale * (inverse @ inverse.T) / np.outer(length, length)
    size, count = len(one.parameters), len(off)
    cost = float(left @ left) * math.exp(float(np.log(variance).sum()) / count)
    again = score(cost, count, len(design.T) + (part > 0.0)) + one.handicap
    return replace(
        one,
        parameters=one.parameters + step[:size],
        covariance=covariance[:size, :size],
        extra=one.extra + step[size:],
        extra_sigma=np.sqrt(covariance.diagonal()[size:]),
        noise_db=math.sqrt(scale),
        cost=cost,
        score=again,
        slow=part > 0.0,
    )


@lru_cache(maxsize=16)
def _slow_ways(count: int) -> tuple[Array, Array]:
    """Variances, shape (n,), and directions, shape (n, n), of 1/f noise over n readings, up to a level of all."""
    step = np.arange(count)
    alike = 1.0 - np.log1p(np.abs(step[:, None] - step)) / math.log1p(count)
    spread, turn = np.linalg.eigh(alike)
    return np.maximum(spread, 0.0), turn
