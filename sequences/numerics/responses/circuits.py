"""Two coupled circuits in the workshop's own figures, and the way from there to the parameters of a fit and back."""

from dataclasses import dataclass

import numpy as np

from sequences.numerics.arrays import Array
from sequences.numerics.responses.curves import HALF_POWER_DB
from sequences.numerics.responses.inverse_power import circuits_of_polynomial

_NEWTON_ROUNDS = 6
_SMALL = 1e-6


@dataclass(frozen=True, slots=True)
class CoupledCircuits:
    """Two circuits, each with its frequency in Hz and loaded Q, and their coupling kQ = k sqrt(Q1 Q2).

    coupling 0 with a level of its own is a stagger-tuned pair; 1 with equal frequencies and Q is critical.
    """

    primary_hz: float
    primary_q: float
    secondary_hz: float
    secondary_q: float
    coupling: float

    def level_db(self, frequency_hz: Array) -> Array:
        """Level in dB, 0 where |(1 + j Q1 y1)(1 + j Q2 y2) + (kQ)^2| is 1; shape (n,). Aiken (1937), from memory."""
        first = 1.0 + 1j * self.primary_q * (frequency_hz / self.primary_hz - self.primary_hz / frequency_hz)
        second = 1.0 + 1j * self.secondary_q * (frequency_hz / self.secondary_hz - self.secondary_hz / frequency_hz)
        return np.asarray(-20.0 * np.log10(np.abs(first * second + self.coupling**2)))


def pair_parameters(circuits: CoupledCircuits) -> Array:
    """The parameters of `curves.SKEWED_PAIR` whose curve is that of these circuits, exactly; shape (5,).

    The narrow-band quartic gives them nearly. Newton's method on the exact curve then puts the edges half the power
    below f0, and the shape and the skew follow from the level at two more places.

    Raises:
        ValueError: If the two circuits are so far apart that no pair of edges belongs to both.
    """
    middle = (circuits.primary_hz * circuits.secondary_hz) ** 0.5
    near = circuits_of_polynomial(_narrow_band_quartic(circuits, middle), middle, middle)
    if near is None:
        raise ValueError("These two circuits are not a pair: one lies outside the other's curve.")
    place, width = near[0], np.exp(near[1])
    for _ in range(_NEWTON_ROUNDS):
        wrong = _edge_errors(circuits, place, width)
        by_place = (_edge_errors(circuits, place + _SMALL * width, width) - wrong) / _SMALL
        by_width = (_edge_errors(circuits, place, width * (1.0 + _SMALL)) - wrong) / _SMALL
        move = -np.linalg.solve(np.column_stack((by_place, by_width)), wrong)
        place, width = place + move[0] * width, width * np.exp(move[1])
    return np.array([place, np.log(width), *_shape_and_skew(circuits, place, width)])


def _narrow_band_quartic(circuits: CoupledCircuits, middle_hz: float) -> Array:
    """|(1 + j Q1 y1)(1 + j Q2 y2) + (kQ)^2|^2, lowest power first, y = (f - middle^2/f) / middle."""
    first, second = (
        np.array([1.0 + 1j * q * (middle_hz / f - f / middle_hz), 1j * q])
        for f, q in ((circuits.primary_hz, circuits.primary_q), (circuits.secondary_hz, circuits.secondary_q))
    )
    denominator = np.convolve(first, second)
    denominator[0] += circuits.coupling**2
    return np.asarray(np.convolve(denominator, denominator.conj()).real)


def _frequencies(place_hz: float, width_hz: float, u: Array) -> Array:
    half = 0.5 * width_hz * u
    return np.asarray(half + np.hypot(half, place_hz))


def _edge_errors(circuits: CoupledCircuits, place_hz: float, width_hz: float) -> Array:
    """How far the level at u = -1 and at u = +1 misses being half the power at u = 0, in dB; shape (2,)."""
    lower, middle, upper = circuits.level_db(_frequencies(place_hz, width_hz, np.array([-1.0, 0.0, 1.0])))
    return np.asarray(np.array([lower, upper]) - middle + HALF_POWER_DB)


def _shape_and_skew(circuits: CoupledCircuits, place_hz: float, width_hz: float) -> Array:
    """Shape, skew and level; shape (3,)."""
    u = np.array([-2.0, 0.0, 2.0])
    frequency = _frequencies(place_hz, width_hz, u)
    lower, level_db, upper = circuits.level_db(frequency)
    inverse_power = 10.0 ** ((level_db - np.array([lower, upper])) / 10.0)
    tilted = (u * 0.5 * (frequency / place_hz + place_hz / frequency))[[0, 2]]
    columns = np.column_stack((np.full(2, 12.0), -3.0 * tilted))
    shape, skew = np.linalg.solve(columns, inverse_power - 5.0)
    return np.array([shape, skew, level_db])
