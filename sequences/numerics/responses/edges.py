"""Peak, edges, widths and the rest of a fitted curve, each with one sigma, and never from outside the sweep.

An edge is where the curve crosses a level below its maximum. How it moves with the parameters follows from implicit
differentiation: at an edge `df/dp = -(dL/dp(edge) - dL/dp(peak)) / L'(edge)`, at a peak `df/dp = -(dL'/dp) / L''`.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from sequences.numerics.arrays import Array
from sequences.numerics.responses.curves import HALF_POWER_DB

LevelAndJacobian = Callable[[Array], tuple[Array, Array]]

DEPTHS_DB = (HALF_POWER_DB, 6.0, 60.0)
"""What 3 dB means is half the power, 3.0103 dB; 6 dB and 60 dB are just that, as filters are specified."""
_FLOORS = -np.array(DEPTHS_DB)[:, None]
_NEWTON_ROUNDS = 4
_THERE = 0.3
"""Of a step: after a move so short the next one would be shorter than a millionth of the width."""

_LEVEL_THERE_DB = 1e-6
"""A peak is there, too, when the next move would gain no more than this: a flat one has no place to be found closer."""

_FARTHEST = 20.0
STEP_OF_WIDTH = 1e-3
_RISE_OF_HUMP_DB = 1e-6
_FLAT_ACROSS_DB = 15.0
_TRUSTED_DB = 0.02


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure of one curve: its value and its derivative by the curve's parameters, shape (p,).

    own_variance: what it is uncertain by even if the parameters were known, since no kind is quite true. by_top: by how
    much it moves when the top is put up by 1 dB and the curve beside it stays.
    """

    value: float
    gradient: Array
    own_variance: float = 0.0
    by_top: float = 0.0

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
    whether the level falls to both sides of the peak. span_hz: the ends of the sweep.
    """

    peak_hz: float
    edges_hz: tuple[tuple[float | None, float | None], ...]
    rival_hz: float | None
    valley_hz: float | None
    peak_inside: bool
    span_hz: tuple[float, float]


def find_landmarks(grid_hz: Array, level: Array) -> Landmarks:
    """Find peak, humps, valley and edges of a curve sampled on a grid, both shape (n,), the grid ascending.

    The grid must be fine enough to show every hump; what it brackets is refined to a small part of its step.
    """
    top = int(np.argmax(level))
    inside = 0 < top < len(grid_hz) - 1
    peak_hz, peak_db = _vertex(grid_hz, level, top) if inside else (float(grid_hz[top]), float(level[top]))
    rise = level[1:] - level[:-1]
    humps = np.flatnonzero((rise[:-1] > 0.0) & (rise[1:] <= 0.0)) + 1
    valley, rival = _valley_and_rival(grid_hz, level, top, humps) if inside and len(humps) > 1 else (None, None)
    span_hz = float(grid_hz[0]), float(grid_hz[-1])
    return Landmarks(peak_hz, _crossings(grid_hz, level - peak_db), rival, valley, inside, span_hz)


def _valley_and_rival(
    grid_hz: Array, level: Array, top: int, humps: NDArray[np.intp]
) -> tuple[float | None, float | None]:
    """Where the deepest valley and the highest hump but the top are within the 3 dB width; None if there are none."""
    within = np.flatnonzero(level > level[top] - HALF_POWER_DB)
    humps = humps[(humps >= within[0]) & (humps <= within[-1])]
    others = humps[humps != top]
    if not len(others):
        return None, None
    lowest = int(np.argmin(level[humps[0] : humps[-1] + 1])) + int(humps[0])
    if not level[top] - level[lowest] > _RISE_OF_HUMP_DB:
        return None, None
    highest = int(others[np.argmax(level[others])])
    return _vertex(grid_hz, level, lowest)[0], _vertex(grid_hz, level, highest)[0]


def _vertex(grid_hz: Array, level: Array, index: int) -> tuple[float, float]:
    """Vertex of the parabola through three neighbouring points of the grid: where it is, and the level there."""
    start, middle, end = grid_hz[index - 1 : index + 2].tolist()
    before, here, after = level[index - 1 : index + 2].tolist()
    below, above = (before - here) / (start - middle), (after - here) / (end - middle)
    curvature = (above - below) / (end - start)
    if curvature == 0.0:
        return middle, here
    slope = below - curvature * (start - middle)
    move = min(max(-0.5 * slope / curvature, start - middle), end - middle)
    return middle + move, here + move * (slope + curvature * move)


def _crossings(grid_hz: Array, level: Array) -> tuple[tuple[float | None, float | None], ...]:
    """The outermost crossings of each of DEPTHS_DB below nought, the lower and the upper one; None where none is."""
    inside = level > _FLOORS
    first, beyond = inside.argmax(axis=1).tolist(), (len(level) - inside[:, ::-1].argmax(axis=1)).tolist()
    return tuple(
        (_cross(grid_hz, level, one - 1, depth), _cross(grid_hz, level, other - 1, depth))
        for one, other, depth in zip(first, beyond, DEPTHS_DB, strict=True)
    )


def _cross(grid_hz: Array, level: Array, left: int, depth: float) -> float | None:
    """Where a level sampled at places crosses a depth right of one of them; None where the sweep ends there.

    By the cubic through four points, the place as a polynomial in the level (Neville's scheme); if that leaves the
    step of the grid, along a straight line.
    """
    if not 0 <= left < len(level) - 1:
        return None
    start = min(max(left - 1, 0), max(len(level) - 4, 0))
    found, above = grid_hz[start : start + 4].tolist(), (level[start : start + 4] + depth).tolist()
    at = left - start
    low_hz, high_hz, low, high = found[at], found[at + 1], above[at], above[at + 1]
    straight = float(low_hz + (high_hz - low_hz) * low / (low - high))
    for apart in range(1, len(found)):
        for i in range(len(found) - apart):
            rise = above[i + apart] - above[i]
            if rise == 0.0:
                return straight
            found[i] += above[i] * (found[i] - found[i + 1]) / rise
    return float(found[0]) if low_hz <= found[0] <= high_hz else straight


class Mark(NamedTuple):
    """A landmark made exact: where it is, the level there, the slope, and the level's derivatives, shape (p,)."""

    frequency_hz: float
    level_db: float
    slope: float
    jacobian: Array


@dataclass(frozen=True, slots=True)
class _Sought:
    """What is looked for, and in Hz near which places: the peak first, then turning points, then edges.

    below_db: depth of an edge below the peak, None for others. lower_3db: where the lower 3 dB edge stands, with the
    upper one right after it and, at the very end, what lies a quarter width off the centre; None if one is missing.
    span_hz: the ends of the sweep, beyond which nothing is looked for.
    """

    names: list[str]
    place: list[float]
    below_db: list[float | None]
    lower_3db: int | None
    peak_inside: bool
    span_hz: tuple[float, float]


def make_exact(curve: LevelAndJacobian, landmarks: Landmarks, step_hz: float) -> tuple[dict[str, Mark], float, Array]:
    """Move every mark to where the curve has it, by Newton's method with differences over a step for the slopes.

    What would leave the sweep stays at its end.

    Returns:
        The marks by name, among them `lower_quarter` and `upper_quarter`, a quarter of the 3 dB width off the centre;
        the curvature of the level at the peak; the derivatives of its slope there, shape (p,).
    """
    sought = _sought(landmarks)
    place, (lowest, highest) = sought.place, sought.span_hz
    for _ in range(_NEWTON_ROUNDS):
        places = np.array(place)
        level, jacobian = curve(np.concatenate((places - step_hz, places, places + step_hz)))
        left, here, right = level.reshape(3, -1)
        slope, curvature = (right - left) / (2.0 * step_hz), (right - 2.0 * here + left) / step_hz**2
        move = _moves(sought, place, here.tolist(), slope.tolist(), curvature.tolist(), step_hz)
        place = [min(max(at + by, lowest), highest) for at, by in zip(place, move, strict=True)]
        gained = slope * move
        if _settled(sought, move, gained.tolist(), step_hz):
            break
    before, at, after = jacobian.reshape(3, len(place), -1)
    marks = zip(sought.names, map(Mark, place, (here + gained).tolist(), slope.tolist(), at), strict=True)
    return dict(marks), float(curvature[0]), (after[0] - before[0]) / (2.0 * step_hz)


def _moves(
    sought: _Sought,
    place: list[float],
    here: list[float],
    slope: list[float],
    curvature: list[float],
    step_hz: float,
) -> list[float]:
    """Newton's steps: turning points to where the slope is nought, edges to their level, quarters along with those."""
    found, (lowest, highest), farthest = [], sought.span_hz, _FARTHEST * step_hz
    for at, level, rise, bend, below in zip(place, here, slope, curvature, sought.below_db, strict=True):
        off, rate = (rise, bend) if below is None else (level - here[0] + below, rise)
        move = -off / rate if rate else 0.0
        found.append(min(max(move, -farthest, lowest - at), farthest, highest - at) if math.isfinite(move) else 0.0)
    if not sought.peak_inside:
        found[0] = 0.0
    if sought.lower_3db is not None:
        lower, upper = (place[i] + found[i] for i in (sought.lower_3db, sought.lower_3db + 1))
        found[-2:] = (0.75 * lower + 0.25 * upper - place[-2], 0.25 * lower + 0.75 * upper - place[-1])
    return found


def _settled(sought: _Sought, move: list[float], gained: list[float], step_hz: float) -> bool:
    return all(
        abs(one) < _THERE * step_hz or (below is None and abs(level) < _LEVEL_THERE_DB)
        for one, level, below in zip(move, gained, sought.below_db, strict=True)
    )


def _sought(landmarks: Landmarks) -> _Sought:
    found: list[tuple[str, float, float | None]] = [("peak", landmarks.peak_hz, None)]
    if landmarks.valley_hz is not None and landmarks.rival_hz is not None:
        found += [("valley", landmarks.valley_hz, None), ("rival", landmarks.rival_hz, None)]
    at_3db = None
    for depth, (lower, upper), below in zip(("3", "6", "60"), landmarks.edges_hz, DEPTHS_DB, strict=True):
        if lower is not None:
            found.append((f"lower_{depth}db", lower, below))
        if upper is not None:
            found.append((f"upper_{depth}db", upper, below))
    lower, upper = landmarks.edges_hz[0]
    if lower is not None and upper is not None:
        at_3db = [name for name, _, _ in found].index("lower_3db")
        found += [("lower_quarter", 0.75 * lower + 0.25 * upper, None)]
        found += [("upper_quarter", 0.25 * lower + 0.75 * upper, None)]
    names, places, depths = zip(*found, strict=True)
    return _Sought(list(names), list(places), list(depths), at_3db, landmarks.peak_inside, landmarks.span_hz)


def figures_of(curve: LevelAndJacobian, landmarks: Landmarks, step_hz: float) -> dict[str, Figure]:
    """Every figure that the sweep holds.

    Returns:
        By name: peak_level; peak; lower_3db, upper_3db, centre, skew; width_3db, width_6db, width_60db; ripple; and
        hump_gap, by how many dB the peak stands above the next hump.
    """
    marks, curvature, slope_jacobian = make_exact(curve, landmarks, step_hz)
    peak, (lowest, highest) = marks["peak"], landmarks.span_hz
    found = {"peak_level": Figure(peak.level_db, peak.jacobian, by_top=1.0)}
    if lowest < peak.frequency_hz < highest and curvature < 0.0:
        found["peak"] = Figure(peak.frequency_hz, -slope_jacobian / curvature, _bluntness(curvature, step_hz))
    edges = {
        name: Figure(mark.frequency_hz, (peak.jacobian - mark.jacobian) / mark.slope, by_top=1.0 / mark.slope)
        for name, mark in marks.items()
        if name.endswith("db") and lowest < mark.frequency_hz < highest
    }
    found |= {name: edges[name] for name in ("lower_3db", "upper_3db") if name in edges}
    for depth in ("3db", "6db", "60db"):
        lower, upper = edges.get(f"lower_{depth}"), edges.get(f"upper_{depth}")
        if lower and upper:
            found[f"width_{depth}"] = _sum(upper, lower, 1.0, -1.0)
    if "width_3db" in found:
        lower, upper = edges["lower_3db"], edges["upper_3db"]
        found["centre"] = _sum(lower, upper, 0.5, 0.5)
        found["skew"] = _skew(marks["upper_quarter"], marks["lower_quarter"], found["centre"], found["width_3db"])
    for name, mark in (("ripple", "valley"), ("hump_gap", "rival")):
        if mark in marks:
            lower_mark = marks[mark]
            found[name] = Figure(peak.level_db - lower_mark.level_db, peak.jacobian - lower_mark.jacobian)
    return found


def _sum(one: Figure, other: Figure, part: float, of_other: float) -> Figure:
    gradient, by_top = part * one.gradient + of_other * other.gradient, part * one.by_top + of_other * other.by_top
    return Figure(part * one.value + of_other * other.value, gradient, by_top=by_top)


def _bluntness(curvature: float, step_hz: float) -> float:
    """Variance of the peak of a flat top, in Hz^2: within it the level falls by less than a kind can be trusted to.

    Nothing for a rounded top, whose place follows from both sides. The step is a thousandth of the width.
    """
    across = -curvature * (step_hz / STEP_OF_WIDTH) ** 2
    return 2.0 * _TRUSTED_DB / -curvature if across < _FLAT_ACROSS_DB else 0.0


def _skew(above: Mark, below: Mark, centre: Figure, width: Figure) -> Figure:
    """Level a quarter width above the centre minus the level a quarter width below it, in dB."""
    at_above = above.jacobian + above.slope * (centre.gradient + 0.25 * width.gradient)
    at_below = below.jacobian + below.slope * (centre.gradient - 0.25 * width.gradient)
    return Figure(above.level_db - below.level_db, at_above - at_below)
