"""Peak, edges, widths and the rest of a fitted curve, each with one sigma, and never from outside the sweep.

An edge is where the curve crosses a level below its maximum. How it moves with the parameters follows from implicit
differentiation: at an edge `df/dp = -(dL/dp(edge) - dL/dp(peak)) / L'(edge)`, at a peak `df/dp = -(dL'/dp) / L''`.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sequences.numerics.arrays import Array
from sequences.numerics.responses.curves import HALF_POWER_DB

LevelAndJacobian = Callable[[Array], tuple[Array, Array]]

DEPTHS_DB = (HALF_POWER_DB, 6.0, 60.0)
_NEWTON_ROUNDS = 4
_THERE = 0.1
"""Of a step: after a move so short the next one would be shorter than a millionth of the width."""

_FARTHEST = 20.0
STEP_OF_WIDTH = 1e-3
_RISE_OF_HUMP_DB = 1e-6
_FLAT_ACROSS_DB = 15.0
_TRUSTED_DB = 0.02


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure of one curve: its value and its derivative by the curve's parameters, shape (p,).

    own_variance: what it is uncertain by even if the parameters were known, since no kind is quite true.
    """

    value: float
    gradient: Array
    own_variance: float = 0.0

    def variance(self, covariance: Array) -> float:
        """Variance for the given covariance of the parameters, shape (p, p)."""
        if not np.isfinite(covariance[0, 0]):
            return np.inf
        return float(self.gradient @ covariance @ self.gradient) + self.own_variance


@dataclass(frozen=True, slots=True)
class Landmarks:
    """Where a curve has its marks, in Hz. An edge that the sweep does not hold is None.

    edges_hz: for each of DEPTHS_DB the lower and the upper one. rival_hz: the highest hump within the 3 dB width but
    the peak, valley_hz: the deepest point between humps within it; None where there is but one hump. peak_inside:
    whether the level falls to both sides of the peak.
    """

    peak_hz: float
    edges_hz: tuple[tuple[float | None, float | None], ...]
    rival_hz: float | None
    valley_hz: float | None
    peak_inside: bool


def find_landmarks(grid_hz: Array, level: Array) -> Landmarks:
    """Find peak, humps, valley and edges of a curve sampled on a grid, both shape (n,), the grid ascending.

    The grid must be fine enough to show every hump; what it brackets is refined to a small part of its step.
    """
    top = int(np.argmax(level))
    inside = 0 < top < len(grid_hz) - 1
    peak_hz = _vertex(grid_hz, level, top) if inside else float(grid_hz[top])
    within = np.flatnonzero(level > level[top] - HALF_POWER_DB)
    rise = np.diff(level)
    humps = np.flatnonzero((rise[:-1] > 0.0) & (rise[1:] <= 0.0)) + 1
    humps = humps[(humps >= within[0]) & (humps <= within[-1])]
    others = humps[humps != top]
    valley = rival = None
    if len(others) and inside:
        between = slice(humps[0], humps[-1] + 1)
        lowest = int(np.argmin(level[between])) + int(humps[0])
        if level[top] - level[lowest] > _RISE_OF_HUMP_DB:
            valley = _vertex(grid_hz, level, lowest)
            rival = _vertex(grid_hz, level, int(others[np.argmax(level[others])]))
    edges = tuple(_bracketed(grid_hz, level - (level[top] - depth)) for depth in DEPTHS_DB)
    return Landmarks(peak_hz, edges, rival, valley, inside)


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
    if above[0] > 0.0 and above[-1] > 0.0:
        return None, None
    inside = np.flatnonzero(above > 0.0)
    first, last = int(inside[0]), int(inside[-1])
    lower = _cross(grid_hz, above, first - 1) if first > 0 else None
    upper = _cross(grid_hz, above, last) if last < len(grid_hz) - 1 else None
    return lower, upper


def _cross(grid_hz: Array, above: Array, left: int) -> float:
    share = above[left] / (above[left] - above[left + 1])
    return float(grid_hz[left] + share * (grid_hz[left + 1] - grid_hz[left]))


@dataclass(frozen=True, slots=True)
class Mark:
    """A landmark made exact: where it is, the level there, the slope, and the level's derivatives, shape (p,)."""

    frequency_hz: float
    level_db: float
    slope: float
    jacobian: Array


def make_exact(curve: LevelAndJacobian, landmarks: Landmarks, step_hz: float) -> tuple[dict[str, Mark], float, Array]:
    """Move every mark to where the curve has it, by Newton's method with differences over a step for the slopes.

    Returns:
        The marks by name; the curvature of the level at the peak; the derivatives of its slope there, shape (p,).
    """
    names, place, below = _rough_marks(landmarks)
    count = len(place)
    for _ in range(_NEWTON_ROUNDS):
        level, jacobian = curve(np.concatenate((place - step_hz, place, place + step_hz)))
        left, here, right = level.reshape(3, count)
        slope, curvature = (right - left) / (2.0 * step_hz), (right - 2.0 * here + left) / step_hz**2
        with np.errstate(divide="ignore", invalid="ignore"):
            move = np.where(np.isnan(below), -slope / curvature, -(here - here[0] + below) / slope)
        if not landmarks.peak_inside:
            move[0] = 0.0
        move[~np.isfinite(move)] = 0.0
        move = np.minimum(np.maximum(move, -_FARTHEST * step_hz), _FARTHEST * step_hz)
        place = place + move
        if np.abs(move).max() < _THERE * step_hz:
            break
    before, at, after = jacobian.reshape(3, count, -1)
    marks = {name: Mark(float(place[i]), float(here[i]), float(slope[i]), at[i]) for i, name in enumerate(names)}
    return marks, float(curvature[0]), (after[0] - before[0]) / (2.0 * step_hz)


def _rough_marks(landmarks: Landmarks) -> tuple[list[str], Array, Array]:
    """Names, places and depths below the peak; NaN for the depth of a peak or a valley. The first is the peak."""
    found = [("peak", landmarks.peak_hz, np.nan)]
    if landmarks.valley_hz is not None and landmarks.rival_hz is not None:
        found += [("valley", landmarks.valley_hz, np.nan), ("rival", landmarks.rival_hz, np.nan)]
    for depth, (lower, upper), below in zip(("3", "6", "60"), landmarks.edges_hz, DEPTHS_DB, strict=True):
        if lower is not None:
            found.append((f"lower_{depth}db", lower, below))
        if upper is not None:
            found.append((f"upper_{depth}db", upper, below))
    names, places, depths = zip(*found, strict=True)
    return list(names), np.array(places), np.array(depths)


def figures_of(curve: LevelAndJacobian, landmarks: Landmarks, step_hz: float) -> dict[str, Figure]:
    """Every figure that the sweep holds.

    Returns:
        By name: peak_level; peak; lower_3db, upper_3db, centre, skew; width_3db, width_6db, width_60db; ripple; and
        hump_gap, by how many dB the peak stands above the next hump.
    """
    marks, curvature, slope_jacobian = make_exact(curve, landmarks, step_hz)
    peak = marks["peak"]
    found = {"peak_level": Figure(peak.level_db, peak.jacobian)}
    if landmarks.peak_inside and curvature < 0.0:
        found["peak"] = Figure(peak.frequency_hz, -slope_jacobian / curvature, _bluntness(curvature, step_hz))
    edges = {
        name: Figure(mark.frequency_hz, (peak.jacobian - mark.jacobian) / mark.slope)
        for name, mark in marks.items()
        if name.endswith("db")
    }
    found |= {name: edges[name] for name in ("lower_3db", "upper_3db") if name in edges}
    for depth in ("3db", "6db", "60db"):
        lower, upper = edges.get(f"lower_{depth}"), edges.get(f"upper_{depth}")
        if lower and upper:
            found[f"width_{depth}"] = Figure(upper.value - lower.value, upper.gradient - lower.gradient)
    if "width_3db" in found:
        lower, upper = edges["lower_3db"], edges["upper_3db"]
        found["centre"] = Figure(0.5 * (lower.value + upper.value), 0.5 * (lower.gradient + upper.gradient))
        found["skew"] = _skew(curve, found["centre"], found["width_3db"], step_hz)
    for name, mark in (("ripple", "valley"), ("hump_gap", "rival")):
        if mark in marks:
            lower_mark = marks[mark]
            found[name] = Figure(peak.level_db - lower_mark.level_db, peak.jacobian - lower_mark.jacobian)
    return found


def _bluntness(curvature: float, step_hz: float) -> float:
    """Variance of the peak of a flat top, in Hz^2: within it the level falls by less than a kind can be trusted to.

    Nothing for a rounded top, whose place follows from both sides. The step is a thousandth of the width.
    """
    across = -curvature * (step_hz / STEP_OF_WIDTH) ** 2
    return 2.0 * _TRUSTED_DB / -curvature if across < _FLAT_ACROSS_DB else 0.0


def _skew(curve: LevelAndJacobian, centre: Figure, width: Figure, step_hz: float) -> Figure:
    """Level a quarter width above the centre minus the level a quarter width below it, in dB."""
    above = Figure(centre.value + 0.25 * width.value, centre.gradient + 0.25 * width.gradient)
    below = Figure(centre.value - 0.25 * width.value, centre.gradient - 0.25 * width.gradient)
    points = np.array([above.value, below.value])
    level, jacobian = curve(np.concatenate((points, points + step_hz)))
    slope = (level[2:] - level[:2]) / step_hz
    gradient = jacobian[0] + slope[0] * above.gradient - jacobian[1] - slope[1] * below.gradient
    return Figure(float(level[0] - level[1]), gradient)
