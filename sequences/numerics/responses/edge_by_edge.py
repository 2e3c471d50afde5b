"""Centre and width from the two edges themselves, whatever the curve: for shapes that are not in the book.

Each skirt is a polynomial through the readings about its crossing, the top the highest of short parabolas. Each edge
has the uncertainty of its own readings, of the top, and of how far a polynomial of one degree less would put it off.
A. Savitzky, M. J. E. Golay, Anal. Chem. 36 (1964) 1627, for polynomials in a sliding window (from memory).
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sequences.numerics.arrays import Array
from sequences.numerics.figures import Estimate
from sequences.numerics.responses import starts
from sequences.numerics.responses.candidates import FINEST_NOISE_DB
from sequences.numerics.responses.curves import DB_PER_NEPER_OF_POWER, HALF_POWER_DB
from sequences.numerics.responses.model_choice import widen_for_few
from sequences.numerics.responses.readings import Readings

_SURELY = 4.0
_MATTERS_OF_WIDTH = 0.005
_REACH = 5
"""Readings to each side of a crossing that its polynomial goes through, at most."""

_DEPTH_DB = 9.0
_SHOULDER_DB = 2.3
"""How far below and above the crossing they reach: a polynomial follows no shoulder."""

_TOP_REACH = 2
_OF_PARABOLA = 0.7
"""Sigma of the middle of a parabola through five readings, over that of a reading: sqrt(17 / 35)."""

_FEWEST = 4
_IN_BAND = 0.45
_CUBIC_FROM = 6
_MOST_MISFIT = 2.0
_BETWEEN_FEW = 0.22
"""Of the step between readings: how far a crossing may be off where few readings stand on a skirt."""

_ENOUGH = 6


@dataclass(frozen=True, slots=True)
class Edges:
    """Figures read off the edges; Hz and dB. skew and ripple as `passband.PassbandFit` has them."""

    lower: Estimate
    upper: Estimate
    centre: Estimate
    width: Estimate
    width_6db: Estimate | None
    peak_level: Estimate
    skew: Estimate
    ripple: Estimate

    def figures(self) -> dict[str, Estimate]:
        """The figures by the names that `passband.PassbandFit` gives them."""
        found = {"lower_3db": self.lower, "upper_3db": self.upper, "centre": self.centre, "width_3db": self.width}
        found |= {"peak_level": self.peak_level, "skew": self.skew, "ripple": self.ripple}
        return found if self.width_6db is None else found | {"width_6db": self.width_6db}

    def contradict(self, figures: dict[str, Estimate]) -> bool:
        """Whether an edge of a curve lies where the readings about it say that it is not."""
        pairs = ((self.lower, figures.get("lower_3db")), (self.upper, figures.get("upper_3db")))
        least_hz = _MATTERS_OF_WIDTH * self.width.value
        return any(
            other is not None and abs(own.value - other.value) > max(_SURELY * own.sigma, least_hz)
            for own, other in pairs
        )


@dataclass(frozen=True, slots=True)
class _Crossing:
    """Where a skirt has a level, its own one sigma, and how far it moves for each dB the level is higher; in Hz."""

    frequency_hz: float
    sigma_hz: float
    hz_per_db: float


def read_edges(readings: Readings, slow_db: float = 0.0) -> Edges | None:
    """Read the edges; None where the readings hold too few of them. `slow_db`: sigma of slow noise."""
    f, smooth = readings.frequency_hz, starts.smoothed(readings)
    if len(f) < 4 * _FEWEST or len(np.unique(f)) < len(f) // 2:
        return None
    noise_db = _noise(readings)
    tops, heights = _heights(readings, smooth)
    top_sigma = _OF_PARABOLA * noise_db
    alike = int(np.count_nonzero(heights > heights.max() - 2.0 * top_sigma))
    top = Estimate(
        float(heights.max()) - top_sigma * float(np.sqrt(np.log(max(alike / (_TOP_REACH + 1), 1.0)))),
        float(np.hypot(top_sigma, slow_db)),
    )
    lower, upper = (_crossing(readings, smooth, top.value - HALF_POWER_DB, way, noise_db) for way in (-1, 1))
    if lower is None or upper is None or not upper.frequency_hz > lower.frequency_hz:
        return None
    centre, width = _between(lower, upper, top.sigma, slow_db)
    inside = heights[np.abs(f[tops] - centre.value) < _IN_BAND * width.value]
    quarters = np.interp(centre.value + np.array([-0.25, 0.25]) * width.value, f, smooth)
    deep = [_crossing(readings, smooth, top.value - 6.0, way, noise_db) for way in (-1, 1)]
    of_a_level = float(np.hypot(noise_db, slow_db))
    return Edges(
        _edge(lower, top.sigma, slow_db),
        _edge(upper, top.sigma, slow_db),
        centre,
        width,
        None if deep[0] is None or deep[1] is None else _between(deep[0], deep[1], top.sigma, slow_db)[1],
        top,
        Estimate(float(quarters[1] - quarters[0]), of_a_level),
        Estimate(_deepest_valley(inside), of_a_level),
    )


def _edge(one: _Crossing, top_sigma_db: float, slow_db: float) -> Estimate:
    sigma = np.hypot(one.sigma_hz, np.hypot(slow_db, top_sigma_db) * one.hz_per_db)
    return Estimate(one.frequency_hz, float(sigma))


def _between(lower: _Crossing, upper: _Crossing, top_sigma_db: float, slow_db: float) -> tuple[Estimate, Estimate]:
    """Middle and distance of two crossings; an error of the top is common to both."""
    own = np.hypot(*(np.hypot(one.sigma_hz, slow_db * one.hz_per_db) for one in (lower, upper)))
    of_middle = np.hypot(0.5 * own, 0.5 * top_sigma_db * (lower.hz_per_db + upper.hz_per_db))
    of_width = np.hypot(own, top_sigma_db * (upper.hz_per_db - lower.hz_per_db))
    middle = 0.5 * (lower.frequency_hz + upper.frequency_hz)
    return Estimate(middle, float(of_middle)), Estimate(upper.frequency_hz - lower.frequency_hz, float(of_width))


def _heights(readings: Readings, smooth: Array) -> tuple[NDArray[np.intp], Array]:
    """Which readings are at the top, and how high a parabola about each is; none that reaches down a skirt."""
    tops = np.flatnonzero(smooth > smooth.max() - HALF_POWER_DB)
    inner = tops[_TOP_REACH:-_TOP_REACH] if len(tops) > 2 * _TOP_REACH else tops[len(tops) // 2 :][:1]
    return inner, np.array([_parabola(readings, at) for at in inner])


def _parabola(readings: Readings, at: int) -> float:
    """The level at one reading as a parabola through it and its neighbours has it."""
    near = slice(max(at - _TOP_REACH, 0), at + _TOP_REACH + 1)
    away = readings.frequency_hz[near] - readings.frequency_hz[at]
    if len(np.unique(away)) < _FEWEST:
        return float(np.mean(readings.level_db[near]))
    return float(np.polyfit(away / np.ptp(away), readings.level_db[near], 2, w=readings.weight[near])[2])


def _noise(readings: Readings) -> float:
    """One sigma of a reading in dB: from fourth differences, which leave next to nothing of a smooth curve."""
    near = readings.level_db > readings.level_db.max() - HALF_POWER_DB
    level = readings.level_db[near]
    if len(level) < 3 * _FEWEST:
        return max(starts.noise_beside_neighbours(readings), FINEST_NOISE_DB)
    return max(starts.median(np.abs(np.diff(level, 4))) * 1.4826 / math.sqrt(70.0), FINEST_NOISE_DB)


def _crossing(readings: Readings, smooth: Array, level_db: float, way: int, noise_db: float) -> _Crossing | None:
    """The outermost crossing of a level on one side, from as many readings about it as one polynomial goes through."""
    f, below = readings.frequency_hz, readings.level_db - level_db
    above = np.flatnonzero(smooth >= level_db)
    if not len(above):
        return None
    first = int(above[0]) - 1 if way < 0 else int(above[-1])
    last = first + 1
    if first < 1 or last > len(f) - 2:
        return None
    found: _Crossing | None = None
    for grown in range(3, 2 * _REACH + 1):
        ends = [one for one in (first - 1, last + 1) if 0 <= one < len(f)]
        near = [one for one in ends if -_DEPTH_DB < below[one] < _SHOULDER_DB]
        if not (near or (ends and grown <= _FEWEST)):
            break
        taken = min(near or ends, key=lambda one: abs(one - 0.5 * (first + last)) + (one > last) * (grown % 2))
        first, last = min(first, taken), max(last, taken)
        stretch = slice(first, last + 1)
        if len(np.unique(f[stretch])) >= _FEWEST:
            wider, misfit = _solved(f[stretch], below[stretch], readings.weight[stretch], noise_db, way)
            if found is not None and (wider is None or misfit > _MOST_MISFIT):
                break
            found = wider or found
    return found


def _solved(
    frequency_hz: Array, level_db: Array, weight: Array, noise_db: float, way: int
) -> tuple[_Crossing | None, float]:
    """Where polynomials through the inverse power pass 1, one of a degree and one of a degree less.

    The inverse power of circuits is a polynomial; the difference of the two is what the shape leaves open. Along with
    that, what the larger leaves over, in sigmas of a reading.
    """
    degree = 3 if len(frequency_hz) >= _CUBIC_FROM else 2
    middle, unit = float(frequency_hz.mean()), float(np.ptp(frequency_hz))
    place, inverse = (frequency_hz - middle) / unit, np.exp(-level_db / DB_PER_NEPER_OF_POWER)
    weight = weight / inverse
    found = [_root(np.polyfit(place, inverse - 1.0, order, w=weight), way) for order in (degree - 1, degree)]
    if found[0] is None or found[1] is None:
        return None, 0.0
    root, slope = found[1]
    design = np.vander(place, degree + 1) * weight[:, None]
    solved = np.linalg.pinv(design)
    freedom = len(place) - degree - 1
    left = weight * (inverse - 1.0) - design @ (solved @ (weight * (inverse - 1.0)))
    noise = noise_db / DB_PER_NEPER_OF_POWER
    here = float(np.sqrt(left @ left / freedom)) if freedom else 0.0
    sigma = max(noise, here if freedom > _FEWEST else 0.0) * float(
        np.linalg.norm(np.vander([root], degree + 1)[0] @ solved)
    )
    between = _BETWEEN_FEW / (len(place) - 1) if degree == 2 else 0.0  # noqa: PLR2004 - parabolas through few readings
    shape = float(np.hypot(0.5 * (root - found[0][0]), between))
    total = float(np.hypot(sigma / slope, shape)) * widen_for_few(max(freedom, _ENOUGH))
    return _Crossing(middle + unit * root, unit * total, -unit / (DB_PER_NEPER_OF_POWER * slope)), here / noise


def _root(coefficients: Array, way: int) -> tuple[float, float] | None:
    """The outermost root within the window where the inverse power rises outwards, and the slope there."""
    roots = np.roots(coefficients)
    inside = roots.real[(np.abs(roots.imag) < 1e-9) & (np.abs(roots.real) <= 0.5)]  # noqa: PLR2004 - half the window
    slopes = np.polyval(np.polyder(coefficients), inside)
    rising = [(float(at), float(slope)) for at, slope in zip(inside, slopes, strict=True) if way * slope > 0.0]
    return max(rising, key=lambda one: way * one[0], default=None)


def _deepest_valley(heights_db: Array) -> float:
    """How far the deepest point between two humps lies below the lower of them, shape (n,) from edge to edge."""
    if not len(heights_db):
        return 0.0
    before, after = np.maximum.accumulate(heights_db), np.maximum.accumulate(heights_db[::-1])[::-1]
    return float(np.max(heights_db.max() - heights_db, where=np.minimum(before, after) > heights_db, initial=0.0))
