"""The floor below which a response cannot be seen: found in the skirts, taken off what lies above it.

A detector shows carrier and noise together, by power, so that far down the skirts the level stops falling. What lies
near the floor says nothing about the response, and would bend every curve that is made to pass through it.
"""

from dataclasses import dataclass, replace

import numpy as np

from sequences.numerics.arrays import Array
from sequences.numerics.responses.candidates import FINEST_NOISE_DB
from sequences.numerics.responses.curves import DB_PER_NEPER_OF_POWER
from sequences.numerics.responses.readings import Readings
from sequences.numerics.responses.starts import noise_beside_neighbours

_LEAST_FALL_DB = 2.0
"""Per octave of detuning: any resonant circuit falls by 6 far out, two and more by 12 and more; a floor by nothing.
Half of 6 is left where AGC halves all levels: that is no floor either."""

_CIRCUIT_FALL_DB = 6.0
_SURE_SIGMAS = 3.0
_LEAST_DEPTH_DB = 15.0
_LEAST_READINGS = 3
_CLEAR_OF_FLOOR_DB = 10.0
"""Above the floor a reading is kept: the floor adds 0.5 dB there, which can be taken off well enough."""

_NEAR_TOP_DB = 6.0
_ENOUGH_AT_TOP = 6
_SIGMA_PER_MEDIAN = 1.4826


@dataclass(frozen=True, slots=True)
class Floor:
    """Level of the floor, and one sigma of a reading on it, in dB."""

    level_db: float
    noise_db: float


def find_floor(readings: Readings) -> Floor | None:
    """Find where the outer halves of the skirts have stopped falling; None where they fall as circuits do.

    The peak must be among the readings, and the skirts must reach 15 dB below it before a floor is believed.
    """
    if not len(readings):
        return None
    top = int(np.argmax(readings.level_db))
    away = readings.frequency_hz - readings.frequency_hz[top]
    flat = [levels for side in (-1.0, 1.0) if (levels := _flat_end(side * away, readings.level_db)) is not None]
    if not flat:
        return None
    levels = np.concatenate(flat)
    level = float(np.median(levels))
    if readings.level_db[top] - level < _LEAST_DEPTH_DB:
        return None
    return Floor(level, float(np.median(np.abs(levels - level))) * _SIGMA_PER_MEDIAN)


def _flat_end(away: Array, level_db: Array) -> Array | None:
    """The levels of the outer octave of one skirt, if they do not fall; None if they do or are too few to tell."""
    outer = (away > 0.0) & (away >= 0.5 * np.max(away))
    if outer.sum() < _LEAST_READINGS:
        return None
    octaves, levels = np.log2(away[outer]), level_db[outer]
    centred = octaves - octaves.mean()
    spread = float(centred @ centred)
    if spread == 0.0:
        return None
    fall = -float(centred @ levels) / spread
    left = levels - levels.mean() + fall * centred
    sigma = float(np.sqrt(left @ left / max(len(levels) - 2, 1) / spread))
    sure = _CIRCUIT_FALL_DB - fall > _SURE_SIGMAS * sigma
    return levels if sure and fall < _LEAST_FALL_DB else None


def above_floor(readings: Readings) -> Readings:
    """Leave out what lies near a floor, take the floor's power off the rest, and let deep readings count for less.

    A meter's noise is even in volts near the floor, so in dB it grows as the level falls; near the top it may be
    larger than that would make it, and is taken as the readings show it there.
    """
    floor = find_floor(readings)
    if floor is None:
        return readings
    kept = readings.only(readings.level_db > floor.level_db + _CLEAR_OF_FLOOR_DB)
    share = np.exp((floor.level_db - kept.level_db) / DB_PER_NEPER_OF_POWER)
    weight = kept.weight * (1.0 - share) / np.sqrt(1.0 + (floor.noise_db / _noise_at_top(kept, floor)) ** 2 * share)
    true_db = kept.level_db + DB_PER_NEPER_OF_POWER * np.log1p(-share)
    return replace(kept, level_db=true_db, weight=weight / np.sqrt(np.mean(weight * weight)))


def _noise_at_top(readings: Readings, floor: Floor) -> float:
    """One sigma of a reading near the top, in dB; that on the floor where too few readings show it."""
    top = readings.only(readings.level_db > np.max(readings.level_db) - _NEAR_TOP_DB)
    if len(top) < _ENOUGH_AT_TOP:
        return max(floor.noise_db, FINEST_NOISE_DB)
    return max(noise_beside_neighbours(top), FINEST_NOISE_DB)
