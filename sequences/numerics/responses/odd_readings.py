"""Readings that stand off the curve: a pop, which no second reading shows again, or a hump that the curve lacks."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sequences.numerics.arrays import Array
from sequences.numerics.responses.readings import Readings

Mask = NDArray[np.bool_]

_ODD = 5.0
"""Sigmas off the curve from which noise is no explanation: one good reading in two million."""

_LEAST_ODD_DB = 0.5
"""No pop is smaller than this; a curve that leaves a little over is not the reading's fault."""

_SAME_PLACE = 0.1
"""Of the width: readings nearer together than this ought to agree."""


@dataclass(frozen=True, slots=True)
class Odd:
    """What stands off a curve.

    alone: shape (n,), true for a pop: most readings beside it do not stand off so. together: shape (n,), true where
    they do, so that it is the curve that is wrong. again_hz: where a pop above the curve has no reading beside it yet
    that says whether it is a hump; None if there is no such pop.
    """

    alone: Mask
    together: Mask
    again_hz: float | None


def odd_readings(readings: Readings, curve_db: Array, noise_db: float, width_hz: float) -> Odd:
    """Find the readings that stand off a curve.

    Args:
        readings: The readings, n of them.
        curve_db: Shape (n,), the level the curve has there.
        noise_db: One sigma of a reading of weight 1.
        width_hz: 3 dB width of the curve.
    """
    off = readings.level_db - curve_db
    odd = np.where(np.abs(off) > np.maximum(_ODD * noise_db / readings.weight, _LEAST_ODD_DB), np.sign(off), 0.0)
    if not odd.any():
        nothing = np.zeros(len(readings), dtype=bool)
        return Odd(nothing, nothing, None)
    near = np.abs(readings.frequency_hz[:, None] - readings.frequency_hz) <= _SAME_PLACE * width_hz
    beside = near.sum(axis=1)
    alike = (near * (odd[:, None] * odd > 0.0)).sum(axis=1)
    alone = (odd != 0.0) & ((alike == 1) | (2 * alike < beside))
    unchecked = np.flatnonzero(alone & (odd > 0.0) & (beside == 1))
    again = float(readings.frequency_hz[unchecked[0]]) if unchecked.size else None
    return Odd(alone, (odd != 0.0) & ~alone, again)
