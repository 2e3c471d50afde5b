"""Where a fit starts: the inverse power of every circuit is a polynomial in detuning, so linear algebra finds it.

For readings with even noise in dB the relative error of the power is even, so the polynomial is fitted to
`P(d) 10^(level/10) = 1`, which is linear least squares. The levels are cleaned of single pops first: a reading that
stands far from the median of itself and its two neighbours is put there.
"""

from dataclasses import dataclass

import numpy as np

from sequences.numerics.curves import DB_PER_NEPER_OF_POWER, HALF_POWER_DB, Array
from sequences.numerics.readings import Readings

_POP_DB = 6.0
_CRITICAL_SHAPE = 1.0
_SHAPE_RANGE = (-0.02, 5.6)


@dataclass(frozen=True, slots=True)
class Outline:
    """The rough look of a response, by eye as it were: its top, where it is, and how wide.

    All arrays have shape (n,). detuning: exact detuning from the top over the width, so about -1 to 1 in the band.
    """

    detuning: Array
    level_db: Array
    weight: Array
    top_hz: float
    width_hz: float
    top_db: float


def outline(readings: Readings) -> Outline:
    """Look for the top of the response and the stretch within 3 dB of it."""
    f, level = readings.frequency_hz, _without_single_pops(readings.level_db)
    smooth = _median_of_three(level)
    top = int(np.argmax(smooth))
    inside = np.flatnonzero(smooth > smooth[top] - HALF_POWER_DB)
    step = np.diff(f)
    least = float(np.median(step)) if len(step) else float(f[0])
    low, high = float(f[inside[0]]), float(f[inside[-1]])
    width = max(high - low, least, 1e-9 * high)
    middle = 0.5 * (low + high)
    detuning = (f - middle * middle / f) / width
    return Outline(detuning, level, readings.weight, middle, width, float(smooth[top]))


def _median_of_three(level_db: Array) -> Array:
    if len(level_db) < 3:  # noqa: PLR2004 - three is what the name says
        return level_db
    padded = np.concatenate((level_db[:1], level_db, level_db[-1:]))
    before, here, after = padded[:-2], level_db, padded[2:]
    return np.maximum(np.minimum(before, here), np.minimum(np.maximum(before, here), after))


def _without_single_pops(level_db: Array) -> Array:
    middle = _median_of_three(level_db)
    return np.where(np.abs(level_db - middle) > _POP_DB, middle, level_db)


def _polynomial(rough: Outline, degree: int, circuits: int = 1) -> Array | None:
    """Coefficients, lowest first, of the inverse power of one of `circuits` equal stages, in detuning over width."""
    scale = max(1.0, float(np.abs(rough.detuning).max()))
    relative = np.exp((rough.level_db - rough.top_db) / (DB_PER_NEPER_OF_POWER * circuits)) * rough.weight
    columns = np.vander(rough.detuning / scale, degree + 1, increasing=True) * relative[:, None]
    length = np.sqrt(np.einsum("ij,ij->j", columns, columns))
    columns /= length
    try:
        found = np.linalg.solve(columns.T @ columns, columns.T @ rough.weight)
    except np.linalg.LinAlgError:
        return None
    return np.asarray(found / length / scale ** np.arange(degree + 1.0))


def _frequency(rough: Outline, detuning: float) -> float:
    """The frequency whose exact detuning from the middle of the outline is `detuning` widths."""
    half = 0.5 * detuning * rough.width_hz
    return float(half + np.hypot(half, rough.top_hz))


def equal_circuits(rough: Outline, count: int) -> Array:
    """Start for `count` equal circuits, shape (3,)."""
    found = _polynomial(rough, 2, count)
    if found is not None and found[2] > 0.0:
        middle = -0.5 * found[1] / found[2]
        floor = found[0] - found[2] * middle * middle
        if floor > 0.0 and np.abs(middle) < np.abs(rough.detuning).max():
            width = rough.width_hz * np.sqrt(floor / found[2] * (2.0 ** (1.0 / count) - 1.0))
            level = rough.top_db - count * DB_PER_NEPER_OF_POWER * np.log(floor)
            return np.array([_frequency(rough, middle), np.log(width), level])
    return np.array([rough.top_hz, np.log(rough.width_hz), rough.top_db])


def pair(rough: Outline) -> Array:
    """Start for any pair, the parameters of `curves.SkewedPair`, shape (5,)."""
    found = _polynomial(rough, 4)
    if found is not None and found[4] > 0.0:
        middle = -0.25 * found[3] / found[4]
        a0, a1, a2, a3, a4 = found
        b0 = a0 + middle * (a1 + middle * (a2 + middle * (a3 + middle * a4)))
        b1 = a1 + middle * (2.0 * a2 + middle * (3.0 * a3 + 4.0 * a4 * middle))
        b2 = a2 + middle * (3.0 * a3 + 6.0 * a4 * middle)
        if b0 > 0.0 and np.abs(middle) < np.abs(rough.detuning).max():
            quartic, quadratic = a4 / b0, b2 / b0
            per_width_squared = 0.5 * (quadratic + np.hypot(quadratic, 2.0 * np.sqrt(quartic)))
            shape = float(np.clip(quartic / per_width_squared**2, *_SHAPE_RANGE))
            width = rough.width_hz * per_width_squared**-0.5
            skew = b1 / b0 * per_width_squared**-0.5
            level = rough.top_db - DB_PER_NEPER_OF_POWER * np.log(b0)
            return np.array([_frequency(rough, middle), np.log(width), shape, skew, level])
    return np.array([rough.top_hz, np.log(rough.width_hz), _CRITICAL_SHAPE, 0.0, rough.top_db])
