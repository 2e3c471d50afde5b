"""Noise that is even in volts: in dB it grows as the level falls, and deep readings must count for less.

A meter behind a linear detector shows the same noise at the top and far down the skirts. Where nobody told the noise of
each reading, the readings tell it: by variance 1 + r 10^(depth/10) of that at the top, depth being how far the fitted
curve stands below its top there. The ratio r is found by likelihood. What the readings stand off the curve is taken in
volts, for far down the noise is larger than the level and no even noise in dB any more; and Student's t stands in for
the normal law, so that single pops count for little (K. L. Lange, R. J. A. Little, J. M. G. Taylor, J. Amer. Statist.
Assoc. 84 (1989) 881, from memory).
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from sequences.numerics.arrays import Array
from sequences.numerics.responses import starts
from sequences.numerics.responses.candidates import Candidate
from sequences.numerics.responses.curves import DB_PER_NEPER_OF_POWER
from sequences.numerics.responses.readings import Readings

_DB_PER_NEPER = 2.0 * DB_PER_NEPER_OF_POWER
_LEAST_READINGS = 16
_LEAST_HEARD = 10
_PERHAPS_NOISIER = 1.2
_FARTHEST_DB = 120.0
_FINEST_DB = 1e-4
_RATIOS = 10.0 ** np.arange(-6.0, 1.6, 0.25)
_FREEDOM_OF_T = 5.0
_ROUNDS = 6
_DECISIVE = 10.0
_STRUCTURED_SIGMAS = 2.5
_DROWNED = 0.25
"""Noise over level beyond which the dB of a reading are no measure any more: their mean is off by a quarter of a
sigma there, and they tell next to nothing."""


@dataclass(frozen=True, slots=True)
class VoltNoise:
    """How noise grows as the level falls.

    ratio: variance at the top of the noise that is even in volts, over that of the noise that is even in dB. even_db:
    one sigma of the latter.
    """

    ratio: float
    even_db: float

    def sigma_db(self, level_db: Array) -> Array:
        """One sigma of a reading at each level of a curve that holds the top, in dB as if it were small; shape (n,)."""
        return np.asarray(self.even_db * np.sqrt(1.0 + self.ratio * _depth(level_db)))

    def heard(self, level_db: Array) -> NDArray[np.bool_]:
        """Where readings do not drown in the noise, shape (n,)."""
        return np.asarray(self.sigma_db(level_db) < _DROWNED * _DB_PER_NEPER)

    def weigh(self, readings: Readings, level_db: Array) -> Readings:
        """Let readings count by their noise, and leave out those that drown in it.

        Args:
            readings: n of them.
            level_db: Shape (n,), of the curve there.
        """
        return replace(readings, weight=1.0 / self.sigma_db(level_db)).only(self.heard(level_db))


def shown_by(readings: Readings, best: Candidate) -> VoltNoise | None:
    """Give the volt noise that readings show about a fitted curve; None where they show none, or have weights already.

    Args:
        readings: All that were usable.
        best: The kind that leads where all count alike.
    """
    if len(readings) < _LEAST_READINGS or readings.weight.min() < readings.weight.max():
        return None
    level = best.curve.level_db(best.parameters, readings.frequency_hz)
    if not np.all(np.isfinite(level)):
        return None
    off = _in_volts(readings.level_db - level)
    size, deep = np.abs(off), level < starts.median(level)
    of_deep = float(size @ deep) * np.count_nonzero(~deep)
    if of_deep < _PERHAPS_NOISIER * float(size @ ~deep) * np.count_nonzero(deep):
        return None
    found, gained = _likeliest(np.maximum(size, _FINEST_DB), _depth(level))
    heard = found.heard(level)
    if gained < _DECISIVE or np.count_nonzero(heard) < _LEAST_HEARD or _structured(off, deep & heard):
        return None
    return found


def _depth(level_db: Array) -> Array:
    """Power at the top over that at each level, shape (n,)."""
    return np.asarray(np.exp((level_db.max() - level_db) / DB_PER_NEPER_OF_POWER))


def _in_volts(off_db: Array) -> Array:
    """Distances from the curve as shares of the curve's voltage, in dB as if they were small; shape (n,)."""
    return np.asarray(_DB_PER_NEPER * np.expm1(np.minimum(off_db, _FARTHEST_DB) / _DB_PER_NEPER))


def _structured(off: Array, deep: NDArray[np.bool_]) -> bool:
    """Whether deep neighbours stand off alike, or to sides in turn, more than by chance: that is no noise."""
    sign: Array = np.sign(off) * deep
    pairs: Array = sign[1:] * sign[:-1]
    by_chance = math.sqrt(max(int(np.count_nonzero(pairs)), 1))
    return abs(float(pairs.sum())) > _STRUCTURED_SIGMAS * by_chance


def _likeliest(size: Array, depth: Array) -> tuple[VoltNoise, float]:
    """The likeliest noise, and how far it takes -2 ln likelihood below that of even noise."""
    ratios = np.concatenate(([0.0], _RATIOS))
    variance = 1.0 + ratios[:, None] * depth
    square = size * size / variance
    scale = np.median(square, axis=1)[:, None]
    for _ in range(_ROUNDS):
        scale = np.mean((_FREEDOM_OF_T + 1.0) * square / (_FREEDOM_OF_T + square / scale), axis=1)[:, None]
    tails = (_FREEDOM_OF_T + 1.0) * np.log1p(square / (_FREEDOM_OF_T * scale))
    misfit = (np.log(variance * scale) + tails).sum(axis=1)
    best = int(np.argmin(misfit))
    return VoltNoise(float(ratios[best]), math.sqrt(float(scale[best, 0]))), float(misfit[0] - misfit[best])
