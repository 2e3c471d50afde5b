"""The one next frequency, under the kinds of curve that lead."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sequences.numerics.arrays import Array
from sequences.numerics.responses.readings import Readings
from sequences.numerics.search.design_criterion import Prediction, variances_removed, worst
from sequences.numerics.search.working_fit import Leader, shares_of_variance

_CANDIDATES = 121
_DEEPEST_DB = 15.0
"""Below the top: further down a reading tells little more, and floors and neighbouring circuits begin to show."""

_FURTHEST_WIDTHS = 10.0
_BESIDE_CENTRE = 0.15
"""Of the width: a reading nearer the centre than this is on neither side."""

_WORTH_THE_OTHER_SIDE = 0.5
_CROWD_WIDTH = 0.15
_CROWD_COSTS = 0.15
"""Among places that are nearly as good, the less crowded: a crowd is counted within so much of the width, and costs
up to this share of the gain. Readings that lie spread out tell kinds of curve apart."""

_LIKE_DB = 1.0
"""Levels no further apart than this are as likely to be lost: what a detector's law refuses depends on the level."""

_ALIKE = 5
"""Readings of similar level over which the noise they told is averaged."""


@dataclass(frozen=True, slots=True)
class Before:
    """What has been read: readings, the last frequency of each in time first to last, and where levels were lost.

    taken_hz: shape (n,), in the order taken. lost_hz: shape (m,).
    """

    readings: Readings
    taken_hz: Array
    lost_hz: Array


def best_frequency(
    found: Sequence[Leader], tolerances: Array, before: Before, start_hz: float, stop_hz: float
) -> float:
    """Choose the frequency whose reading shrinks the wanted uncertainty most.

    Args:
        found: The leading kinds, fitted to the readings so far, the greatest share first.
        tolerances: Shape (2,), asked-for one sigma of centre and width as fractions of the width.
        before: What has been read.
        start_hz: Low end of the span; nothing below is proposed.
        stop_hz: High end of the span.
    """
    centre, width = found[0].figures
    places = _candidates(found[0], start_hz, stop_hz)
    level = found[0].candidate.curve.level_db(found[0].candidate.parameters, places)
    shallow = level >= np.max(level) - _DEEPEST_DB
    places, level = places[shallow], level[shallow]
    gain = _gain(found, tolerances, places, _relative_noise(found[0], level, before.readings))
    gain *= _chance_of_level(found[0], level, before)
    crowd = _crowd(places, before.taken_hz, _CROWD_WIDTH * width)
    gain *= 1.0 - _CROWD_COSTS * crowd / max(float(np.max(crowd)), 1.0)
    return float(places[_alternating(gain, places, before.taken_hz, centre, _BESIDE_CENTRE * width)])


def _candidates(leader: Leader, start_hz: float, stop_hz: float) -> Array:
    """Places to choose from: even in the angle whose tangent is the detuning, which is dense where a curve bends."""
    centre, width = leader.figures
    angle = np.linspace(-1.0, 1.0, _CANDIDATES) * np.arctan(2.0 * _FURTHEST_WIDTHS)
    places = centre + 0.5 * width * np.tan(angle)
    places = places[(places >= start_hz) & (places <= stop_hz)]
    return places if places.size else np.linspace(start_hz, stop_hz, _CANDIDATES)


def _gain(found: Sequence[Leader], tolerances: Array, places: Array, relative_noise: Array) -> Array:
    shares = shares_of_variance(found, tolerances)
    per_tolerance = (tolerances * found[0].figures[1]) ** 2
    noise = relative_noise * sum(leader.share * leader.candidate.noise_db for leader in found)
    removed = variances_removed([_prediction(leader, places) for leader in found], noise)
    return np.asarray(worst(shares) - worst(shares - removed / per_tolerance))


def _prediction(leader: Leader, places: Array) -> Prediction:
    level, sensitivities = leader.candidate.curve.level_and_jacobian(leader.candidate.parameters, places)
    return Prediction(leader.share, leader.figures, leader.gradients, leader.covariance, level, sensitivities)


def _relative_noise(leader: Leader, level_db: Array, readings: Readings) -> Array:
    """The noise to expect at a level, relative to that of the readings, from those at levels like it."""
    if np.ptp(readings.weight) == 0.0:
        return np.ones_like(level_db)
    # Not the levels read: the noisiest of them are the furthest off.
    true_db = leader.candidate.curve.level_db(leader.candidate.parameters, readings.frequency_hz)
    order = np.argsort(true_db, kind="stable")
    log_noise = -np.log(readings.weight[order])
    window = np.ones(min(_ALIKE, len(log_noise)))  # a longer one would lengthen what it smooths
    smooth = np.convolve(log_noise, window, "same") / np.convolve(np.ones_like(log_noise), window, "same")
    return np.asarray(np.exp(np.interp(level_db, true_db[order], smooth)))


def _crowd(places: Array, taken: Array, reach: float) -> Array:
    """How many of what was taken lie about each place."""
    return np.asarray(np.exp(-0.5 * ((places[:, None] - taken) / reach) ** 2).sum(axis=1))


def _chance_of_level(leader: Leader, level_db: Array, before: Before) -> Array:
    """The chance that a reading gives a level, from how many at levels like its own did; without a loss it is 1."""
    if not before.lost_hz.size:
        return np.ones_like(level_db)
    lost_db = leader.candidate.curve.level_db(leader.candidate.parameters, before.lost_hz)
    lost = _crowd(level_db, lost_db, _LIKE_DB)
    given = _crowd(level_db, before.readings.level_db, _LIKE_DB)
    return np.asarray((given + 1.0) / (given + lost + 1.0))


def _alternating(gain: Array, places: Array, taken_hz: Array, centre_hz: float, beside_hz: float) -> int:
    """The best place that is not on the side read last, unless that would waste the reading."""
    best = int(np.argmax(gain))
    beside = taken_hz[np.abs(taken_hz - centre_hz) > beside_hz]
    if not beside.size:
        return best
    side = np.sign(beside[-1] - centre_hz)
    other = np.where((places - centre_hz) * side > beside_hz, -np.inf, gain)
    across = int(np.argmax(other))
    return across if other[across] >= _WORTH_THE_OTHER_SIDE * gain[best] else best
