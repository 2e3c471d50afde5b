"""Peak, edges, widths and the rest of a fitted curve, each with one sigma, and never from outside the sweep.

An edge is where the curve crosses a level below its maximum. How it moves with the parameters follows from implicit
differentiation: at an edge `df/dp = -(dL/dp(edge) - dL/dp(peak)) / L'(edge)`, at a peak `df/dp = -(dL'/dp) / L''`.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sequences.numerics.curves import HALF_POWER_DB, Array

LevelAndJacobian = Callable[[Array], tuple[Array, Array]]

DEPTHS_DB = (HALF_POWER_DB, 6.0, 60.0)
_NEWTON_ROUNDS = 3
_STEP_OF_WIDTH = 1e-3
_RISE_OF_HUMP_DB = 1e-6


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure of one curve: its value and its derivative by the curve's parameters, shape (p,)."""

    value: float
    gradient: Array

    def variance(self, covariance: Array) -> float:
        """Variance for the given covariance of the parameters, shape (p, p)."""
        return float(self.gradient @ covariance @ self.gradient)


@dataclass(frozen=True, slots=True)
class Landmarks:
    """Where a curve has its marks, in Hz. An edge or a peak that the sweep does not hold is None.

    edges_hz: for each of DEPTHS_DB the lower and the upper one. humps_hz: every maximum inside the sweep.
    valley_hz: the deepest point between two humps, if there are two.
    """

    peak_hz: float
    edges_hz: tuple[tuple[float | None, float | None], ...]
    humps_hz: tuple[float, ...]
    valley_hz: float | None
    peak_inside: bool


def find_landmarks(level_db: Callable[[Array], Array], grid_hz: Array) -> Landmarks:
    """Find peak, humps, valley and edges of a smooth curve between the ends of the grid, shape (n,), ascending.

    The grid must be fine enough to show every hump; what it brackets is refined to a small part of its step.
    """
    level = level_db(grid_hz)
    top = int(np.argmax(level))
    inside = 0 < top < len(grid_hz) - 1
    peak_hz = _vertex(grid_hz, level, top) if inside else float(grid_hz[top])
    rise = np.diff(level)
    humps = np.flatnonzero((rise[:-1] > 0.0) & (rise[1:] <= 0.0)) + 1
    valley = None
    if len(humps) > 1:
        between = slice(humps[0], humps[-1] + 1)
        lowest = int(np.argmin(level[between])) + int(humps[0])
        if level[top] - level[lowest] > _RISE_OF_HUMP_DB:
            valley = _vertex(grid_hz, level, lowest)
    edges = tuple(_bracketed(grid_hz, level - (level[top] - depth)) for depth in DEPTHS_DB)
    return Landmarks(peak_hz, edges, tuple(float(grid_hz[hump]) for hump in humps), valley, inside)


def _vertex(grid_hz: Array, level: Array, index: int) -> float:
    """Vertex of the parabola through three neighbouring points of the grid."""
    x = grid_hz[index - 1 : index + 2] - grid_hz[index]
    y = level[index - 1 : index + 2] - level[index]
    below, above = y[0] / x[0], y[2] / x[2]
    curvature = (above - below) / (x[2] - x[0])
    if curvature == 0.0:
        return float(grid_hz[index])
    slope = below - curvature * x[0]
    return float(grid_hz[index] + np.clip(-0.5 * slope / curvature, x[0], x[2]))


def _bracketed(grid_hz: Array, above: Array) -> tuple[float | None, float | None]:
    """The outermost crossings of zero, to first order within their step of the grid."""
    inside = np.flatnonzero(above > 0.0)
    first, last = int(inside[0]), int(inside[-1])
    lower = _cross(grid_hz, above, first - 1) if first > 0 else None
    upper = _cross(grid_hz, above, last) if last < len(grid_hz) - 1 else None
    return lower, upper


def _cross(grid_hz: Array, above: Array, left: int) -> float:
    share = above[left] / (above[left] - above[left + 1])
    return float(grid_hz[left] + share * (grid_hz[left + 1] - grid_hz[left]))


@dataclass(frozen=True, slots=True)
class Marked:
    """Landmarks made exact, with the curve's level, slope and derivatives there.

    frequency_hz, level_db, slope: shape (m,); jacobian: shape (m, p); slope_jacobian_at_peak: shape (p,).
    The first entry is the peak; `index` says which entry an edge has.
    """

    frequency_hz: Array
    level_db: Array
    slope: Array
    jacobian: Array
    peak_curvature: float
    slope_jacobian_at_peak: Array
    index: dict[str, int]


def make_exact(curve: LevelAndJacobian, landmarks: Landmarks, step_hz: float) -> Marked:
    """Move peak, edges and valley to where the curve has them, by Newton's method with a step for the slopes."""
    index, start, depth = {"peak": 0}, [landmarks.peak_hz], [0.0]
    for name, (lower, upper), below in zip(("3", "6", "60"), landmarks.edges_hz, DEPTHS_DB, strict=True):
        for side, place in (("lower", lower), ("upper", upper)):
            if place is not None:
                index[side + name] = len(start)
                start.append(place)
                depth.append(below)
    if landmarks.valley_hz is not None:
        index["valley"] = len(start)
        start.append(landmarks.valley_hz)
        depth.append(0.0)
    place, below = np.array(start), np.array(depth)
    level_only = below == 0.0
    count = len(place)
    for _ in range(_NEWTON_ROUNDS):
        points = np.concatenate((place - step_hz, place, place + step_hz))
        left, here, right = curve(points)[0].reshape(3, count)
        slope, curvature = (right - left) / (2.0 * step_hz), (right - 2.0 * here + left) / step_hz**2
        with np.errstate(divide="ignore", invalid="ignore"):
            towards_edge = -(here - here[0] + below) / slope
            towards_vertex = -slope / curvature
        move = np.where(level_only, towards_vertex, towards_edge)
        if not landmarks.peak_inside:
            move[0] = 0.0
        place = place + np.clip(np.nan_to_num(move), -20.0 * step_hz, 20.0 * step_hz)
    points = np.concatenate((place - step_hz, place, place + step_hz))
    level, jacobian = curve(points)
    left, here, right = level.reshape(3, count)
    before, at, after = jacobian.reshape(3, count, -1)
    return Marked(
        place,
        here,
        (right - left) / (2.0 * step_hz),
        at,
        float((right[0] - 2.0 * here[0] + left[0]) / step_hz**2),
        (after[0] - before[0]) / (2.0 * step_hz),
        index,
    )


def figures_of(curve: LevelAndJacobian, landmarks: Landmarks, step_hz: float) -> dict[str, Figure]:
    """Every figure the sweep holds: peak, lower_3db, upper_3db, centre, widths, peak_level, ripple, skew."""
    marked = make_exact(curve, landmarks, step_hz)
    found = {"peak_level": Figure(float(marked.level_db[0]), marked.jacobian[0])}
    if landmarks.peak_inside and marked.peak_curvature < 0.0:
        found["peak"] = Figure(float(marked.frequency_hz[0]), -marked.slope_jacobian_at_peak / marked.peak_curvature)
    edges = {
        name: Figure(float(marked.frequency_hz[at]), (marked.jacobian[0] - marked.jacobian[at]) / marked.slope[at])
        for name, at in marked.index.items()
        if name not in ("peak", "valley")
    }
    for depth in ("3", "6", "60"):
        lower, upper = edges.get(f"lower{depth}"), edges.get(f"upper{depth}")
        if lower and upper:
            found[f"width_{depth}db"] = Figure(upper.value - lower.value, upper.gradient - lower.gradient)
    lower, upper = edges.get("lower3"), edges.get("upper3")
    if lower:
        found["lower_3db"] = lower
    if upper:
        found["upper_3db"] = upper
    if lower and upper:
        found["centre"] = Figure(0.5 * (lower.value + upper.value), 0.5 * (lower.gradient + upper.gradient))
        found["skew"] = _skew(curve, found["centre"], found["width_3db"], step_hz)
    if "valley" in marked.index:
        at = marked.index["valley"]
        found["ripple"] = Figure(
            float(marked.level_db[0] - marked.level_db[at]), marked.jacobian[0] - marked.jacobian[at]
        )
    return found


def _skew(curve: LevelAndJacobian, centre: Figure, width: Figure, step_hz: float) -> Figure:
    """Level a quarter width above the centre minus the level a quarter width below it, in dB."""
    above = Figure(centre.value + 0.25 * width.value, centre.gradient + 0.25 * width.gradient)
    below = Figure(centre.value - 0.25 * width.value, centre.gradient - 0.25 * width.gradient)
    points = np.array([above.value, below.value])
    level, jacobian = curve(np.concatenate((points, points + step_hz)))
    slope = (level[2:] - level[:2]) / step_hz
    gradient = jacobian[0] + slope[0] * above.gradient - jacobian[1] - slope[1] * below.gradient
    return Figure(float(level[0] - level[1]), gradient)
