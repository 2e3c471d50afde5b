"""Noise that is even in volts: in dB it grows as the level falls, and deep readings must count for less.

A meter behind a linear detector shows the same noise at the top and far down the skirts. Where nobody told the noise of
each reading, the readings tell it: by variance 1 + r 10^(depth/10) of that at the top, depth being how far the fitted
curve stands below its top there. The ratio r is found by likelihood, single pops held down to what their neighbours in
level show.
"""

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sequences.numerics.arrays import Array
from sequences.numerics.responses import starts
from sequences.numerics.responses.candidates import Candidate
from sequences.numerics.responses.curves import DB_PER_NEPER_OF_POWER
from sequences.numerics.responses.readings import Readings

_LEAST_READINGS = 30
_PERHAPS_NOISIER = 1.4
_PLAINLY_NOISIER = 2.0
_ALIKE = 9
_SIGMA_PER_MEDIAN = 1.4826
_MOST_SIGMAS = 3.0
_DEEPEST_DB = 80.0
_FINEST_DB = 1e-4
_RATIOS = 10.0 ** np.arange(-6.0, 0.3, 0.25)
_DECISIVE = 20.0
_STRUCTURED_SIGMAS = 2.5


def weighted_by_level(readings: Readings, best: Candidate) -> Readings | None:
    """Weigh readings by the volt noise they show about a fitted curve; None where they show none, or were weighed.

    Args:
        readings: All that were usable.
        best: The kind that leads where all count alike.
    """
    if len(readings) < _LEAST_READINGS or float(np.ptp(readings.weight)) > 0.0:
        return None
    off = best.residual_db
    if len(off) != len(readings):  # pops or skirts were left out
        off = readings.level_db - best.curve.level_db(best.parameters, readings.frequency_hz)
    level, size = readings.level_db - off, np.abs(off)
    if not np.all(np.isfinite(off)):
        return None
    deep = level < starts.median(level)
    of_deep = float(size @ deep)
    if of_deep < _PERHAPS_NOISIER * (float(size.sum()) - of_deep):
        return None
    order = np.argsort(-level)
    size, half = size[order], len(off) // 2
    if starts.median(size[half:]) < _PLAINLY_NOISIER * starts.median(size[:half]) or _structured(off, deep):
        return None
    capped = _capped(size)
    depth = np.exp(np.minimum(level.max() - level[order], _DEEPEST_DB) / DB_PER_NEPER_OF_POWER)
    ratio, gained = _likeliest_ratio(capped, depth)
    if gained < _DECISIVE:
        return None
    weight = np.empty_like(off)
    weight[order] = 1.0 / np.sqrt(1.0 + ratio * depth)
    return replace(readings, weight=weight / np.sqrt(np.mean(weight * weight)))


def _structured(off: Array, deep: NDArray[np.bool_]) -> bool:
    """Whether deep neighbours stand off alike, or to sides in turn, more than by chance: that is no noise."""
    sign: Array = np.sign(off) * deep
    pairs: Array = sign[1:] * sign[:-1]
    by_chance = math.sqrt(max(int(np.count_nonzero(pairs)), 1))
    return abs(float(pairs.sum())) > _STRUCTURED_SIGMAS * by_chance


def _capped(size: Array) -> Array:
    """Distances from the curve, by falling level, held down to what those at levels alike show; shape (n,)."""
    padded = np.pad(size, _ALIKE // 2, mode="reflect")
    middle = np.median(np.lib.stride_tricks.sliding_window_view(padded, _ALIKE), axis=1)
    most: Array = _MOST_SIGMAS * _SIGMA_PER_MEDIAN * middle
    return np.maximum(np.minimum(size, most), _FINEST_DB)


def _likeliest_ratio(size: Array, depth: Array) -> tuple[float, float]:
    """The ratio of variances, and how far it takes -2 ln likelihood below that of even noise."""
    variance = 1.0 + _RATIOS[:, None] * depth
    square = size * size
    misfit = len(size) * np.log(np.mean(square / variance, axis=1)) + np.log(variance).sum(axis=1)
    best = int(np.argmin(misfit))
    return float(_RATIOS[best]), float(len(size) * np.log(np.mean(square)) - misfit[best])
