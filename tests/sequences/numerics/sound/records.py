"""Records of a receiver's sound whose truth is known, for the tests of what is heard in them."""

import math

import numpy as np

from sequences.numerics.arrays import Array

HUM_SHAPE = ((1, 0.3), (2, 1.0), (3, 0.2), (4, 0.5), (6, 0.2), (8, 0.1), (10, 0.03), (12, 0.02))
"""Harmonics of a full-wave supply's hum and their peak values: the second the strongest, falling beyond it."""


def times_s(length_s: float, rate_hz: float) -> Array:
    """Give the time of each sample, from the middle of the record."""
    count = round(length_s * rate_hz)
    half_s = (count - 1) / 2 / rate_hz
    return np.linspace(-half_s, half_s, count)


def tone(
    tone_hz: float, peak: float, length_s: float, rate_hz: float, dice: np.random.Generator, drift_hz_per_s: float = 0.0
) -> Array:
    """Make a tone of random phase."""
    at_s = times_s(length_s, rate_hz)
    made: Array = peak * np.cos(2 * np.pi * (tone_hz + drift_hz_per_s * at_s / 2) * at_s + dice.uniform(0, 2 * np.pi))
    return made


def noise(peak: float, ratio_db: float, length_s: float, rate_hz: float, dice: np.random.Generator) -> Array:
    """Make white noise that a tone of this peak value stands above by so many dB, over half the rate."""
    made: Array = peak / math.sqrt(2 * 10 ** (ratio_db / 10)) * dice.standard_normal(round(length_s * rate_hz))
    return made


def hum(mains_hz: float, peak: float, length_s: float, rate_hz: float, dice: np.random.Generator) -> Array:
    """Make hum whose strongest harmonic has this peak value."""
    parts = [tone(order * mains_hz, peak * share, length_s, rate_hz, dice) for order, share in HUM_SHAPE]
    made: Array = np.sum(parts, axis=0)
    return made


def bound_hz(ratio_db: float, length_s: float, rate_hz: float) -> float:
    """Give the Cramer-Rao bound of a tone's frequency: Kay, Estimation Theory, 1993, eq. 3.41."""
    count = round(length_s * rate_hz)
    ratio = 10 ** (ratio_db / 10)
    return math.sqrt(12 * rate_hz**2 / ((2 * math.pi) ** 2 * ratio * count * (count**2 - 1)))
