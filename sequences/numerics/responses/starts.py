"""The rough look of a response, from which fits start.

The levels are cleaned of single pops first: a reading that stands far from the median of itself and its two neighbours
is put there.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from sequences.numerics.arrays import Array
from sequences.numerics.responses.curves import (
    DB_PER_NEPER_OF_POWER,
    HALF_POWER_DB,
)
from sequences.numerics.responses.flat_top import FLAT_TOPS
from sequences.numerics.responses.readings import Readings

_POP_DB = 6.0
_DEEP_DB = 10.0
_SIGMA_PER_MEDIAN = 1.4826


@dataclass(frozen=True, slots=True)
class Outline:
    """The rough look of a response, by eye as it were: its top, where it is, and how wide.

    All arrays have shape (n,). detuning: exact detuning from the top over the width, so about -1 to 1 in the band.
    steepness: width 10 dB below the top over the width 3 dB below it; None where the readings do not reach so far down.
    noise_db: one sigma of a reading, no less than it is, from how far each stands from the line between its neighbours.
    """

    detuning: Array
    level_db: Array
    weight: Array
    top_hz: float
    width_hz: float
    top_db: float
    steepness: float | None
    noise_db: float


def outline(readings: Readings) -> Outline:
    """Look for the top of the response and the stretch within 3 dB of it."""
    f, level = readings.frequency_hz, _without_single_pops(readings.level_db)
    smooth = _median_of_three(level)
    top = float(smooth.max())
    low, high = _stretch(f, smooth > top - HALF_POWER_DB)
    width = max(high - low, median(np.diff(f)), 1e-9 * high)
    middle = 0.5 * (low + high)
    detuning = (f - middle * middle / f) / width
    deep = smooth > top - _DEEP_DB
    steepness = None if deep[0] or deep[-1] else np.subtract(*_stretch(f, deep)[::-1]) / width
    return Outline(detuning, level, readings.weight, middle, width, top, steepness, noise_beside_neighbours(readings))


def median(values: Array) -> float:
    """The middle value, the upper one of two: several times faster than numpy's for a few hundred values."""
    half = len(values) // 2
    return float(np.partition(values, half)[half])


def smoothed(readings: Readings) -> Array:
    """Levels with single pops taken out and each put to the median of itself and its neighbours, shape (n,)."""
    return _median_of_three(_without_single_pops(readings.level_db))


def _stretch(frequency_hz: Array, inside: NDArray[np.bool_]) -> tuple[float, float]:
    places = np.flatnonzero(inside)
    return float(frequency_hz[places[0]]), float(frequency_hz[places[-1]])


def off_neighbours(readings: Readings) -> Array:
    """How far each reading but the ends stands off the line between its neighbours, over its sigma; shape (n - 2,)."""
    f, level = readings.frequency_hz, readings.level_db
    gap = f[2:] - f[:-2]
    share = np.divide(f[1:-1] - f[:-2], gap, out=np.full_like(gap, 0.5), where=gap > 0.0)
    off = level[1:-1] - (level[:-2] + share * (level[2:] - level[:-2]))
    variance = 1.0 / readings.weight**2
    spread = variance[1:-1] + (1.0 - share) ** 2 * variance[:-2] + share**2 * variance[2:]
    return np.asarray(off / np.sqrt(spread))


def noise_beside_neighbours(readings: Readings) -> float:
    """One sigma of a reading of weight one, in dB, no less than it is; one pop in ten readings hardly moves it."""
    return median(np.abs(off_neighbours(readings))) * _SIGMA_PER_MEDIAN


def _median_of_three(level_db: Array) -> Array:
    if len(level_db) < 3:  # noqa: PLR2004 - three is what the name says
        return level_db
    padded = np.concatenate((level_db[:1], level_db, level_db[-1:]))
    before, here, after = padded[:-2], level_db, padded[2:]
    return np.maximum(np.minimum(before, here), np.minimum(np.maximum(before, here), after))


def _without_single_pops(level_db: Array) -> Array:
    middle = _median_of_three(level_db)
    return np.where(np.abs(level_db - middle) > _POP_DB, middle, level_db)


_ENOUGH_TO_CHOOSE = 50
_RIPPLE_ANGLES = np.array([6.0, 4.0, 3.0, 2.2, 1.6, 1.2, 0.95])
_NO_RIPPLE = np.array([-1.0, -0.5, -0.2, 0.0])


@cache
def _tried_flat_tops() -> tuple[Array, Array]:
    """Shapes to try for each of FLAT_TOPS, shape (m, r); the inverse powers by u^2 they make, shape (m r, k)."""
    shapes = [np.concatenate((_NO_RIPPLE, 1.0 / np.cosh(_RIPPLE_ANGLES / curve.poles) ** 2)) for curve in FLAT_TOPS]
    powers = np.zeros((len(FLAT_TOPS), len(shapes[0]), FLAT_TOPS[-1].poles + 1))
    for row, curve, tried in zip(powers, FLAT_TOPS, shapes, strict=True):
        row[:, : curve.poles + 1] = curve.inverse_powers(tried)
    return np.array(shapes), powers.reshape(-1, powers.shape[2])


def flat_tops(readings: Readings, frequency_hz: float, log_width: float) -> tuple[Array, Array]:
    """Starts for every flat-topped filter of FLAT_TOPS: the best of several shapes with this middle and ln width.

    Returns:
        The starts, shape (m, 4), and the mean square that each leaves over, in dB^2, at some of the readings.
    """
    some = slice(None, None, max(1, len(readings) // _ENOUGH_TO_CHOOSE))
    f, weight = readings.frequency_hz[some], readings.weight[some] ** 2
    shapes, powers = _tried_flat_tops()
    detuning = (f - frequency_hz * (frequency_hz / f)) * np.exp(-log_width)
    inverse_power = powers @ np.vander(detuning * detuning, powers.shape[1], increasing=True).T
    missing = readings.level_db[some] + DB_PER_NEPER_OF_POWER * np.log(inverse_power)
    weight /= weight.sum()
    level_db = missing @ weight
    cost = ((missing * missing) @ weight - level_db * level_db).reshape(shapes.shape)
    kinds, best = np.arange(len(shapes)), cost.argmin(axis=1)
    starts = np.empty((len(shapes), 4))
    starts[:, 0], starts[:, 1], starts[:, 2] = frequency_hz, log_width, shapes[kinds, best]
    starts[:, 3] = level_db.reshape(shapes.shape)[kinds, best]
    return starts, cost[kinds, best]
