"""When the skirts are another matter: a lagging meter, a bending detector or hum rule there, not the circuits.

A level 40 dB down is a hundredth of the top's voltage: whatever the meter still shows of the reading before, or bends,
or picks up, is as large as that. Where no kind of curve explains top and skirts together, only the top is explained.
"""

import math
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from sequences.numerics.responses import volt_noise
from sequences.numerics.responses.analysis import Analysis, analyse
from sequences.numerics.responses.candidates import FINEST_NOISE_DB, Candidate, has_structure
from sequences.numerics.responses.readings import Readings
from sequences.numerics.responses.starts import median, noise_beside_neighbours

_TOP_DB = 20.0
_NEAR_TOP_DB = 6.0
_LEAST_READINGS = 7
_ENOUGH_NEAR_TOP = 10
_FINE_DB = 0.1
_BY_CHANCE_OF_MEDIANS = 2.0
_ABOVE_NEIGHBOURS = 1.3
_FAR_ABOVE_NEIGHBOURS = 2.0
_BY_CHANCE = 1e-3


def analyse_what_agrees(readings: Readings) -> Analysis:
    """Fit every kind of curve to all readings, or to the top of the response alone where that fits far better.

    Where the readings show noise that is even in volts, those far down count for less.
    """
    found = _top_if_better(readings, analyse(readings))
    noise = volt_noise.shown_by(readings, found.best)
    if noise is None:
        return found
    weighted = noise.weigh(readings, found.best.curve.level_db(found.best.parameters, readings.frequency_hz))
    again = analyse(weighted)
    allowed = 1.0 + _BY_CHANCE_OF_MEDIANS / math.sqrt(len(found.readings))
    if _off_near_top(again.best, weighted) > allowed * _off_near_top(found.best, weighted):
        return found
    return replace(again, volt_noise=noise)


def _top_if_better(readings: Readings, found: Analysis) -> Analysis:
    """Fit every kind to the top of the response alone, where that fits far better than what was found for all."""
    if found.best.noise_db <= _FINE_DB or found.slow_db:
        return found
    beside_db = _noise_near_top(readings)
    if found.best.noise_db <= _ABOVE_NEIGHBOURS * beside_db:
        return found
    near = readings.level_db > np.max(readings.level_db) - _TOP_DB
    top = readings.only(near)
    if len(np.unique(top.frequency_hz)) < _LEAST_READINGS or len(top) == len(readings):
        return found
    if found.best.noise_db <= _FAR_ABOVE_NEIGHBOURS * beside_db and _even_already(found, readings, near):
        return found
    again = analyse(top)
    return again if _fits_far_better(again.best, found.best) else found


def _off_near_top(best: Candidate, readings: Readings) -> float:
    """How far the readings near the top stand off a curve, each by its weight; the middle one: pops hardly count."""
    top = readings.only(readings.level_db > np.max(readings.level_db) - _TOP_DB)
    return median(top.weight * np.abs(top.level_db - best.curve.level_db(best.parameters, top.frequency_hz)))


def _even_already(found: Analysis, readings: Readings, near: NDArray[np.bool_]) -> bool:
    """Whether the curve for all readings leaves over nothing but noise, and as much of it near the top as elsewhere."""
    best = found.best
    if len(found.readings) != len(readings) or has_structure(best, readings):
        return False
    off = (best.residual_db * readings.weight)[near]
    freedom = max(len(off) - len(best.parameters), 1)
    return not _far_smaller(float(np.sqrt(off @ off / freedom)), freedom, best)


def _fits_far_better(one: Candidate, other: Candidate) -> bool:
    return _far_smaller(one.noise_db, one.freedom, other)


def _far_smaller(noise_db: float, freedom: int, other: Candidate) -> bool:
    """Whether chance hardly ever makes the ratio of two variances so small (Fisher's F)."""
    from scipy.special import fdtri  # noqa: PLC0415 - keeps scipy out of the start of every command

    ratio = (other.noise_db / max(noise_db, FINEST_NOISE_DB)) ** 2
    return ratio > float(fdtri(max(other.freedom, 1), max(freedom, 1), 1.0 - _BY_CHANCE))


def _noise_near_top(readings: Readings) -> float:
    """One sigma of a reading near the top, in dB, as its neighbours show it: no less than it is; 0 if unknown."""
    near = readings.only(readings.level_db > np.max(readings.level_db) - _NEAR_TOP_DB)
    return noise_beside_neighbours(near) if len(near) >= _ENOUGH_NEAR_TOP else 0.0
