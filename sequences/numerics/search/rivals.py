"""Another response beside the one that is measured: what stands off its skirt like a peak, and is there a second time.

A skirt that no curve foretells, or a floor, stands off the curve more and more the farther out one looks; a rival
stands off it and then comes back. So what counts is by how much a reading stands off the curve more than some reading
on either side of it does.
"""

from dataclasses import dataclass

import numpy as np

from sequences.numerics.arrays import Array
from sequences.numerics.responses.readings import Readings
from sequences.numerics.search.working_fit import Leader
from sequences.numerics.wording import say_db, say_hz

_BESIDE = 1.25
"""Of the width: nearer the centre than this is the response itself, whose shape is another matter."""

_FARTHEST_DOWN_DB = 30.0
"""A rival farther below the top than this does no harm."""

_LEAST_DB, _LEAST_NOISE_DB = 1.0, 0.05
_SUSPECT_SIGMAS, _SURE_SIGMAS = 3.5, 4.5
_SAME_PLACE = 0.05
"""Of the width: readings so near each other are of one place."""

_RISES_SIGMAS, _RISES_DB = 2.5, 0.5


@dataclass(frozen=True, slots=True)
class Skirts:
    """Readings against the curve that leads: where, how far each stands off it, and one sigma of that; shape (n,).

    `level_db`: of the readings, under the top of the curve. `lost_hz`: where readings gave no level, shape (m,).
    """

    frequency_hz: Array
    off_db: Array
    sigma_db: Array
    level_db: Array
    lost_hz: Array
    centre_hz: float
    width_hz: float

    @property
    def same_hz(self) -> float:
        """How near each other two readings of one place are."""
        return _SAME_PLACE * self.width_hz


@dataclass(frozen=True, slots=True)
class Rival:
    """Another response: about where, about how far below the top, and where the readings of the one measured end."""

    frequency_hz: float
    down_db: float
    valley_hz: float

    @property
    def text(self) -> str:
        """One sentence for the person."""
        return (
            f"There is another response near {say_hz(self.frequency_hz)}, about {say_db(self.down_db)} down. "
            "The figures are those of the strongest one alone."
        )


@dataclass(frozen=True, slots=True)
class Suspect:
    """Where a reading may be a rival's or a pop: read there again."""

    frequency_hz: float


@dataclass(frozen=True, slots=True)
class _Places:
    """Readings of one place made one, by their distance from the passband; shape (k,)."""

    frequency_hz: Array
    off_db: Array
    sigma_db: Array
    level_db: Array
    count: Array


def skirts_of(leader: Leader, readings: Readings, lost_hz: Array) -> Skirts:
    """Hold readings against one circuit of that centre and width; a rival may have bent the curve that leads.

    Any other filter falls faster, a floor rises; neither comes and goes.
    """
    centre_hz, width_hz = (float(figure) for figure in leader.figures)
    top_db = float(leader.candidate.curve.level_db(leader.candidate.parameters, np.array([centre_hz]))[0])
    detuning = (readings.frequency_hz - centre_hz**2 / readings.frequency_hz) / width_hz
    curve_db = top_db - 10.0 * np.log10(1.0 + detuning**2)
    sigma_db = max(leader.candidate.noise_db, _LEAST_NOISE_DB) / readings.weight
    off_db, under_top_db = readings.level_db - curve_db, readings.level_db - top_db
    return Skirts(readings.frequency_hz, off_db, sigma_db, under_top_db, lost_hz, centre_hz, width_hz)


def find_rival(skirts: Skirts) -> Rival | Suspect | None:
    """Find the most prominent thing beside the response that is measured, and say whether it has been seen twice."""
    found: list[tuple[float, Rival | Suspect]] = []
    for side in (-1.0, 1.0):
        places = _outwards(skirts, side)
        judged = (_judged(skirts, places, index) for index in range(len(places.off_db) - 1))
        found += [one for one in judged if one is not None]
    return max(found, key=lambda each: each[0])[1] if found else None


def rises_at(skirts: Skirts, near_hz: float, reach_hz: float) -> bool:
    """Tell whether a reading of the skirts within reach of a place stands off the curve enough to look closer there."""
    near = np.abs(skirts.frequency_hz - near_hz) <= reach_hz
    beside = np.abs(skirts.frequency_hz - skirts.centre_hz) > _BESIDE * skirts.width_hz
    rising = skirts.off_db > np.maximum(_RISES_SIGMAS * skirts.sigma_db, _RISES_DB)
    return bool(np.any(near & beside & rising))


def _outwards(skirts: Skirts, side: float) -> _Places:
    away = side * (skirts.frequency_hz - skirts.centre_hz)
    order = np.flatnonzero(away > _BESIDE * skirts.width_hz)
    order = order[np.argsort(away[order])]
    if not order.size:
        return _Places(*(np.empty(0) for _ in range(5)))
    group = np.concatenate(([0], np.cumsum(np.diff(away[order]) > skirts.same_hz)))
    count = np.bincount(group).astype(np.float64)
    columns = (skirts.frequency_hz, skirts.off_db, skirts.sigma_db, skirts.level_db)
    frequency, off, sigma, level = (np.bincount(group, column[order]) / count for column in columns)
    return _Places(frequency, off, sigma / np.sqrt(count), level, count)


def _judged(skirts: Skirts, places: _Places, index: int) -> tuple[float, Rival | Suspect] | None:
    """Judge one place that has another beyond it; with its prominence in sigmas."""
    inner = places.off_db[:index]
    nearer = float(min(inner.min(initial=0.0), 0.0))
    prominence = float(places.off_db[index]) - max(nearer, float(places.off_db[index + 1 :].min()))
    sigmas = prominence / (2.0**0.5 * float(places.sigma_db[index]) + 1e-12)
    level_db = float(places.level_db[index])
    if prominence < _LEAST_DB or sigmas < _SUSPECT_SIGMAS or not -_FARTHEST_DOWN_DB < level_db < -_LEAST_DB:
        return None
    at_hz = float(places.frequency_hz[index])
    if places.count[index] > 1:
        valley_hz = skirts.centre_hz if not inner.size else float(places.frequency_hz[int(np.argmin(inner))])
        valley_hz = 0.5 * (valley_hz + at_hz) if not inner.size else valley_hz
        rival = Rival(at_hz, -level_db, valley_hz)
        return (sigmas, rival) if sigmas >= _SURE_SIGMAS else None
    asked = bool(np.any(np.abs(skirts.lost_hz - at_hz) <= skirts.same_hz))
    return None if asked else (sigmas, Suspect(at_hz))
