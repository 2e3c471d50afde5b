"""Where a fit starts, and how near a kind can come: the inverse power of circuits is a polynomial in detuning.

For readings with even noise in dB the relative error of the power is even, so the polynomial is fitted to
`P(d) 10^(level/10) = 1`, which is linear least squares. Equal circuits are found from the power of one of them,
10^(level/10n). Every curve of n circuits is a polynomial of degree 2n, so what the best polynomial leaves over no
such curve can undercut: a kind that is surely worse than another need not be fitted to know that.
"""

import math
from functools import cached_property

import numpy as np

from sequences.numerics.arrays import Array
from sequences.numerics.responses.curves import DB_PER_NEPER_OF_POWER
from sequences.numerics.responses.inverse_power import circuits_of_polynomial
from sequences.numerics.responses.starts import Outline

_CRITICAL_SHAPE = 1.0
_SHAPE_RANGE = (0.0, 5.6)
MOST_CIRCUITS = 4
_MOST_EQUAL = 8
_LEAST_LENGTH = 1e-150
_LEAST_MISFIT = 1e-6
"""Square of a relative error finer than any reading: a hundredth of a dB is 2.3 parts in a thousand."""


class LinearStarts:
    """The best polynomials for one outline of a response, and the starts they give; each worked out at first need."""

    def __init__(self, rough: Outline) -> None:
        self._rough = rough
        self._scale = max(1.0, float(np.abs(rough.detuning).max()))
        self._detuning = rough.detuning / self._scale

    @cached_property
    def _factors(self) -> tuple[Array, Array, Array, list[float]]:
        """One Cholesky factor for polynomials of every degree, lowest power first: it holds the smaller ones' too.

        Returns:
            The lower factor of the scaled normal equations, shape (m, m), as far as the readings determine them; what
            it takes to their right side, shape (m,); the lengths of the columns; what is left over with 0, 1 ... m
            coefficients.
        """
        from scipy.linalg.lapack import dpotrf, dtrtrs  # noqa: PLC0415 - keeps scipy out of the start of every command

        rough = self._rough
        relative = np.exp((rough.level_db - rough.top_db) / DB_PER_NEPER_OF_POWER) * rough.weight
        columns = np.empty((2 * MOST_CIRCUITS + 1, len(relative)))
        columns[0] = relative
        for power in range(1, len(columns)):
            np.multiply(columns[power - 1], self._detuning, out=columns[power])
        information = columns @ columns.T
        length = np.sqrt(information.diagonal()) + _LEAST_LENGTH
        pull = (columns @ rough.weight) / length
        lower, failed = dpotrf(information / (length[:, None] * length), lower=1)
        known = failed - 1 if failed > 0 else len(length)
        reached, _ = dtrtrs(lower[:known, :known], pull[:known], lower=1)
        left = np.maximum(rough.weight @ rough.weight - np.cumsum(reached * reached), 0.0)
        return lower, reached, length, left.tolist()

    def _left_over(self, degree: int) -> float:
        """The sum of squared relative errors that the best polynomial of a degree leaves over; 0 if unknown."""
        left = self._factors[3]
        return left[degree] if degree < len(left) else 0.0

    def _polynomial(self, degree: int) -> Array | None:
        """The best coefficients, lowest first, in detuning over width; None where the readings leave one open."""
        from scipy.linalg.lapack import dtrtrs  # noqa: PLC0415 - keeps scipy out of the start of every command

        lower, reached, length, left = self._factors
        size = degree + 1
        if size > len(left):
            return None
        found, _ = dtrtrs(lower[:size, :size], reached[:size], lower=1, trans=1)
        return np.asarray(found / length[:size] / self._scale ** np.arange(size))

    @cached_property
    def _equal(self) -> tuple[Array, Array]:
        """The best parabolas for 2, 3 ... equal circuits, shape (m, 3), and what each leaves over, shape (m,)."""
        rough, count = self._rough, np.arange(2.0, _MOST_EQUAL + 1.0)[:, None]
        relative = np.exp((rough.level_db - rough.top_db) / (DB_PER_NEPER_OF_POWER * count)) * rough.weight
        powers = np.vander(self._detuning, 5, increasing=True)
        moments, pull = (relative * relative) @ powers, (relative * rough.weight) @ powers[:, :3]
        system = moments[:, np.add.outer(np.arange(3), np.arange(3))]
        try:
            found = np.linalg.solve(system, pull[..., None])[..., 0]
        except np.linalg.LinAlgError:  # levels so far apart that all but one reading count for nothing
            return np.zeros_like(pull), np.zeros(len(pull))
        left = rough.weight @ rough.weight - np.einsum("ij,ij->i", pull, found)
        return found / self._scale ** np.arange(3.0), np.maximum(left, 0.0)

    def least_cost(self, count: int) -> float:
        """What no curve of `count` circuits can undercut but by noise: a weighted sum of squares in dB^2."""
        return self._left_over(2 * count) * DB_PER_NEPER_OF_POWER**2

    def most_gained(self, count: int, level_db: Array) -> float:
        """What any curve of `count` circuits can gain on a fitted level, shape (n,): fall of -2 ln likelihood."""
        rough = self._rough
        off = np.expm1((rough.level_db - level_db) / DB_PER_NEPER_OF_POWER) * rough.weight
        least = max(self._left_over(2 * count), _LEAST_MISFIT * len(off))
        return len(off) * math.log(max(float(off @ off) / least, 1.0))

    def least_cost_of_equal(self, count: int) -> float:
        """The same for `count` equal circuits, two or more."""
        return float(self._equal[1][count - 2]) * (count * DB_PER_NEPER_OF_POWER) ** 2

    def equal_circuits(self, count: int) -> Array:
        """Start for `count` equal circuits, shape (3,)."""
        rough, found = self._rough, self._polynomial(2) if count == 1 else self._equal[0][count - 2]
        if found is not None and found[2] > 0.0:
            middle = -0.5 * found[1] / found[2]
            floor = found[0] - found[2] * middle * middle
            if floor > 0.0 and abs(middle) < np.abs(rough.detuning).max():
                width = rough.width_hz * np.sqrt(floor / found[2] * (2.0 ** (1.0 / count) - 1.0))
                level = rough.top_db - count * DB_PER_NEPER_OF_POWER * np.log(floor)
                return np.array([self._frequency(middle), np.log(width), level])
        return np.array([rough.top_hz, np.log(rough.width_hz), rough.top_db])

    def circuits(self, count: int) -> Array | None:
        """Start for any circuits, the parameters of skewed `curves.StaggeredCircuits`; None if none is found."""
        rough, found = self._rough, self._polynomial(2 * count)
        furthest = float(np.abs(rough.detuning).max())
        start = None if found is None else circuits_of_polynomial(found, rough.top_hz, rough.width_hz, furthest)
        if start is not None:
            start[-1] += rough.top_db
        return start

    def pair(self) -> Array:
        """Start for any pair, shape (5,): critically coupled where nothing better is found."""
        start = self.circuits(2)
        if start is None:
            rough = self._rough
            return np.array([rough.top_hz, np.log(rough.width_hz), _CRITICAL_SHAPE, 0.0, rough.top_db])
        start[2] = np.clip(start[2], *_SHAPE_RANGE)
        return start

    def _frequency(self, detuning: float) -> float:
        """The frequency whose exact detuning from the middle of the outline is `detuning` widths."""
        half = 0.5 * detuning * self._rough.width_hz
        return float(half + np.hypot(half, self._rough.top_hz))
