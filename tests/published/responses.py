"""Closed forms of the handbooks, written from the book and not from the code: what readings are made of here.

With a = Q (f/f0 - f0/f), a single circuit passes 1 / sqrt(1 + a^2) of its greatest output, and two equal coupled
circuits 2 k' / sqrt((1 + k'^2 - a^2)^2 + 4 a^2) of the most that coupling can give, k' = kQ (F. E. Terman, Radio
Engineers' Handbook (1943) section 3; C. B. Aiken, Two-Mesh Tuned Coupled Circuit Filters, Proc. IRE 25 (1937); both
from memory, both recomputed from the circuits).
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

HALF_POWER_DB = 10 * math.log10(2)


def frequency_at(a: ArrayLike, f0_hz: float, q: float) -> Array:
    """The frequencies at which a = Q (f/f0 - f0/f), exactly."""
    half = np.asarray(a, dtype=float) / (2 * q)
    return np.asarray(f0_hz * (half + np.sqrt(1 + half * half)))


def detuning_at(frequency_hz: ArrayLike, f0_hz: float, q: float) -> Array:
    """Detuning a = Q (f/f0 - f0/f)."""
    f = np.asarray(frequency_hz, dtype=float)
    return np.asarray(q * (f / f0_hz - f0_hz / f))


def single_db(a: ArrayLike) -> Array:
    """Level of one circuit below its greatest."""
    return np.asarray(-10 * np.log10(1 + np.square(np.asarray(a, dtype=float))))


def pair_db(a: ArrayLike, coupling: float) -> Array:
    """Level of two equal coupled circuits below the most that coupling can give."""
    square = np.square(np.asarray(a, dtype=float))
    passed = (2 * coupling) ** 2 / ((1 + coupling**2 - square) ** 2 + 4 * square)
    return np.asarray(10 * np.log10(passed))
