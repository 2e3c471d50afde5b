"""A width at a depth, from readings about the two edges: the distance at which the output equals its target.

The depth is set by the source, exactly; the readings about each edge tell where the output crosses the target.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sequences.numerics.figures import Estimate

Floats = NDArray[np.float64]

BEND = 2
"""The skirt is a parabola over the few decibels of a bracket."""

SPREAD_OF_EVEN = math.sqrt(12.0)


@dataclass(frozen=True, slots=True)
class SkirtReadings:
    """Readings about one edge: distances from the top in Hz, shape (n,), and offsets from the target in dB, shape (n,).

    `inner_hz` and `outer_hz` bracket the edge. An offset may be infinite where a wall is too steep to be read on.
    """

    inner_hz: float
    outer_hz: float
    distance_hz: Floats
    offset_db: Floats


@dataclass(frozen=True, slots=True)
class WidthAtDepth:
    """A width in Hz, and how much wider it would be for a decibel more of depth."""

    width_hz: Estimate
    hz_per_db: float


@dataclass(frozen=True, slots=True)
class _Edge:
    distance_hz: float
    hz_per_db: float
    unit_sigma_hz: float
    misfit: float
    freedom: int
    wall_hz: float = 0.0


def width_at_depth(edges: tuple[SkirtReadings, SkirtReadings], reference_db: Estimate) -> WidthAtDepth:
    """Give the width between two edges.

    Args:
        edges: the readings about each.
        reference_db: how far the output lay off its target on the passband's top, with the source not raised. It
            moves both edges alike.

    The noise is told from the scatter at both edges together; where that comes from few readings, the sigma is widened
    by Student's t.
    """
    found = [_edge(each, reference_db.value) for each in edges]
    freedom = sum(each.freedom for each in found)
    noise_db = math.sqrt(sum(each.misfit for each in found) / freedom) if freedom else 0.0
    scatter_hz = noise_db * math.hypot(*(each.unit_sigma_hz for each in found))
    hz_per_db = sum(each.hz_per_db for each in found)
    own = Estimate(0.0, scatter_hz, float(freedom) if freedom else math.inf).for_few_repeats()
    reference = reference_db.for_few_repeats()
    sigma_hz = math.hypot(own.sigma, hz_per_db * reference.sigma, *(each.wall_hz for each in found))
    return WidthAtDepth(Estimate(sum(each.distance_hz for each in found), sigma_hz), hz_per_db)


def _edge(readings: SkirtReadings, reference_db: float) -> _Edge:
    told = np.isfinite(readings.offset_db)
    middle_hz = math.sqrt(readings.inner_hz * readings.outer_hz)
    if len(np.unique(readings.distance_hz[told])) <= BEND or not told.all():
        return _Edge(middle_hz, 0.0, 0.0, 0.0, 0, (readings.outer_hz - readings.inner_hz) / SPREAD_OF_EVEN)
    scale = math.log(readings.outer_hz / readings.inner_hz)
    at = np.log(readings.distance_hz / middle_hz) / scale
    design = np.vander(at, BEND + 1, increasing=True)
    solved, *_ = np.linalg.lstsq(design, readings.offset_db, rcond=None)
    curve = np.asarray(solved, dtype=np.float64)
    left = readings.offset_db - design @ curve
    root = _crossing(curve, reference_db)
    slope = float(curve[1] + 2.0 * curve[2] * root)
    row = root ** np.arange(BEND + 1)
    variance = float(row @ np.linalg.inv(design.T @ design) @ row)
    distance_hz = middle_hz * math.exp(scale * root)
    hz_per_db = distance_hz * scale / abs(slope)
    return _Edge(distance_hz, hz_per_db, hz_per_db * math.sqrt(variance), float(left @ left), len(at) - BEND - 1)


def _crossing(curve: Floats, level_db: float) -> float:
    """Find where the parabola crosses, from the middle of the bracket, by Newton's way; within the bracket or near."""
    at = 0.0
    for _ in range(20):
        slope = min(float(curve[1] + 2.0 * curve[2] * at), -1e-3)
        value = float(curve[0] + curve[1] * at + curve[2] * at**2) - level_db
        at = min(max(at - value / slope, -1.0), 1.0)
    return at
