"""Filters of many poles with a flat or rippled top, maximally flat to Chebyshev."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from sequences.numerics.arrays import Array
from sequences.numerics.responses.curves import (
    DB_PER_NEPER_OF_POWER,
    SKEWED_CIRCUITS,
    Curve,
    Lopsided,
    StaggeredCircuits,
    detune,
    powers_upwards,
)

LEAST_FLAT = -1.5
"""Rounder shoulders than this belong to cascades of circuits, whose curves they repeat."""


@dataclass(frozen=True)
class FlatTop(Curve):
    """A filter of `poles` poles, maximally flat or with equal ripples: inverse power 1 + R(u)^2, R(1) = 1.

    R(u) = e^n T_n(u/e) / (e^n T_n(1/e)), T_n the Chebyshev polynomial; it depends on the shape v = e^2 alone:
    0 is the Butterworth response, v towards 1 ripples of up to 3 dB, v < 0 a rounder shoulder, which ends the kind at
    LEAST_FLAT. W is the 3 dB width.
    """

    poles: int = 4

    @property
    def parameter_names(self) -> tuple[str, ...]:
        """f0, ln W, the shape v, level."""
        return ("frequency_hz", "log_width", "shape", "level_db")

    @property
    def name(self) -> str:
        """What the trade calls it."""
        return f"flat-topped filter of {self.poles} poles"

    @property
    def family(self) -> str:
        """See Curve."""
        return "flat-topped filter"

    @property
    def holder(self) -> Curve:
        """See Curve."""
        return SKEWED_CIRCUITS[-1] if self.poles <= SKEWED_CIRCUITS[-1].count else self

    @property
    def leaning(self) -> Curve:
        """See Curve: few poles lean as circuits do that are coupled by one kind of reactance."""
        few = self.poles <= SKEWED_CIRCUITS[-1].count
        return StaggeredCircuits(self.poles, skewed=True) if few else Lopsided(self)

    def level_and_jacobian(self, parameters: Array, frequency_hz: Array) -> tuple[Array, Array]:
        """See Curve."""
        u, u_by_frequency = detune(parameters, frequency_hz)
        shape = parameters[..., 2, None]
        limit = np.where((shape < LEAST_FLAT) | (shape >= 1.0), np.nan, 0.0)
        by_shape_at_edge, coefficients = self._coefficients(shape)
        square = u * u
        jacobian = coefficients @ powers_upwards(square, self.poles // 2)
        response, by_square, by_shape = jacobian[..., 0, :], jacobian[..., 1, :], jacobian[..., 2, :]
        odd = square if self.poles % 2 else 1.0
        inverse_power = 1.0 + odd * response * response
        level = parameters[..., -1, None] + limit - DB_PER_NEPER_OF_POWER * np.log(inverse_power)
        factor = (-2.0 * DB_PER_NEPER_OF_POWER) * response / inverse_power
        by_u = factor * u * (2.0 * odd * by_square + (response if self.poles % 2 else 0.0))
        jacobian[..., 2, :] = factor * odd * (by_shape - by_shape_at_edge * response)
        jacobian[..., 0, :], jacobian[..., 1, :], jacobian[..., 3, :] = by_u * u_by_frequency, -by_u * u, 1.0
        return level, jacobian.swapaxes(-1, -2)

    def level_db(self, parameters: Array, frequency_hz: Array) -> Array:
        """See Curve."""
        u, _ = detune(parameters, frequency_hz)
        shape, square = parameters[..., 2, None], u * u
        limit = np.where((shape < LEAST_FLAT) | (shape >= 1.0), np.nan, 0.0)
        coefficients = self._coefficients(shape)[1][..., :1, :]
        response = (coefficients @ powers_upwards(square, self.poles // 2))[..., 0, :]
        inverse_power = 1.0 + (square if self.poles % 2 else 1.0) * response * response
        return np.asarray(parameters[..., -1, None] + limit - DB_PER_NEPER_OF_POWER * np.log(inverse_power))

    def inverse_powers(self, shapes: Array) -> Array:
        """Coefficients of the inverse power by u^2, lowest first, for each of several shapes, shape (m,).

        Returns:
            Shape (m, poles + 1).
        """
        upwards = self._coefficients(shapes[:, None])[1][:, 0]
        found = np.array([np.convolve(each, each) for each in upwards])
        if self.poles % 2:
            found = np.concatenate((np.zeros((len(found), 1)), found), axis=1)
        found[:, 0] += 1.0
        return found

    def _coefficients(self, shape: Array) -> tuple[Array, Array]:
        """R as a polynomial in u^2 (over u where `poles` is odd), lowest power first, scaled to R(1) = 1.

        Args:
            shape: Shape (..., 1).

        Returns:
            The relative derivative of R(1) by the shape before scaling, shape (..., 1); the coefficients of R, of its
            derivative by u^2 and of its derivative by the shape, and noughts, shape (..., 4, poles // 2 + 1).
        """
        count = self.poles // 2 + 1
        found = (_chebyshev_terms(self.poles) @ powers_upwards(shape, count - 1)).reshape(*shape.shape[:-1], 4, count)
        at_edge = found @ np.ones(count)
        return at_edge[..., 2:3] / at_edge[..., :1], found / at_edge[..., :1, None]


@lru_cache
def _chebyshev_terms(poles: int) -> Array:
    """What takes 1, v, v^2 ... to the coefficients of R, of its derivatives by u^2 and v, to none; shape (4 m, m)."""
    terms = np.polynomial.chebyshev.cheb2poly([0.0] * poles + [1.0])[::-1][::2]
    count = len(terms)
    response = np.diag(terms)
    by_square = np.roll(response * np.arange(count - 1, -1, -1.0), 1, axis=0)
    by_shape = np.roll(response * np.arange(count), -1, axis=1)
    return np.concatenate((response[::-1], by_square[::-1], by_shape[::-1], np.zeros((count, count))))


FLAT_TOPS = tuple(FlatTop(poles) for poles in range(3, 9))
