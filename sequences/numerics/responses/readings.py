"""Readings made ready for fitting: what cannot be used is left out, the rest is put in order of frequency."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from sequences.numerics.arrays import Array

_BEYOND_ANY_LEVEL_DB = 1e4
_LEAST_LEVELS = 5
_FINEST_STEP_DB = 0.02
_ROUNDING = 1e-3


@dataclass(frozen=True, slots=True)
class Readings:
    """Usable readings, sorted by frequency; every array has shape (n,).

    weight: one over the relative sigma, its mean square 1. time: place in time, 0 at the first reading, 1 at the last.
    before_db: the level read just before each one (its own for the first). left_out: how many were not numbers.
    """

    frequency_hz: Array
    level_db: Array
    weight: Array
    time: Array
    before_db: Array
    left_out: int = 0

    def __len__(self) -> int:
        return len(self.frequency_hz)

    def only(self, keep: np.ndarray[tuple[int, ...], np.dtype[np.bool_]]) -> "Readings":
        """The readings where `keep`, shape (n,), is true."""
        return Readings(
            self.frequency_hz[keep],
            self.level_db[keep],
            _scaled(self.weight[keep]),
            self.time[keep],
            self.before_db[keep],
            self.left_out,
        )


def step_of(level_db: Array) -> float:
    """The step to which levels, shape (n,), were rounded, in dB; 0 where they show none of a fiftieth or more."""
    levels = np.unique(level_db)
    if len(levels) < _LEAST_LEVELS or 2 * len(levels) > len(level_db) + _LEAST_LEVELS:
        return 0.0
    step = float(np.diff(levels).min())
    steps = (levels - levels[0]) / step
    return step if step > _FINEST_STEP_DB and bool(np.all(np.abs(steps - np.round(steps)) < _ROUNDING)) else 0.0


def prepare(
    frequency_hz: ArrayLike, level_db: ArrayLike, sigma_db: ArrayLike | None = None, time_s: ArrayLike | None = None
) -> Readings:
    """Check, clean and sort.

    Args:
        frequency_hz: Shape (n,), any order.
        level_db: Shape (n,).
        sigma_db: Shape (n,), one sigma of each reading, absolute or relative; None for even noise.
        time_s: Shape (n,), when each was taken; None if they stand in the order in which they were taken.

    Raises:
        ValueError: If the arrays do not have one and the same length.
    """
    f = np.asarray(frequency_hz, dtype=float)
    level = np.asarray(level_db, dtype=float)
    sigma = np.ones_like(f) if sigma_db is None else np.asarray(sigma_db, dtype=float)
    time = np.arange(f.size, dtype=float) if time_s is None else np.asarray(time_s, dtype=float)
    if f.ndim != 1 or not f.shape == level.shape == sigma.shape == time.shape:
        raise ValueError(
            f"Frequencies {f.shape}, levels {level.shape}, sigmas {sigma.shape} and times {time.shape} "
            "must be lists of one and the same length."
        )
    numbers = np.isfinite(f) & np.isfinite(time) & np.isfinite(sigma) & (np.abs(level) < _BEYOND_ANY_LEVEL_DB)
    usable = numbers & (f > 0.0) & (sigma > 0.0)
    in_time = np.flatnonzero(usable)
    if time_s is not None:
        in_time = in_time[np.argsort(time[in_time], kind="stable")]
    before = np.zeros_like(level)
    before[in_time] = level[np.concatenate((in_time[:1], in_time[:-1]))]
    ascending = bool((np.diff(f[in_time]) > 0.0).all())  # as a sweep is taken: nothing to sort
    order = in_time if ascending else in_time[np.lexsort((level[in_time], f[in_time]))]
    time = time[order]
    if len(order):
        time = (time - time.min()) / max(float(np.ptp(time)), 1e-300)
    weight = _scaled(1.0 / sigma[order])
    return Readings(f[order], level[order], weight, time, before[order], f.size - len(order))


def _scaled(weight: Array) -> Array:
    """The same weights with a mean square of 1, shape (n,)."""
    return weight * math.sqrt(len(weight) / (weight @ weight)) if len(weight) else weight
