"""Sums over a record that fits of lines are made of, without a column of samples for each line.

Time is u = 2 t / length, from -1 to 1 about the middle of the record. A line exp(i k u) over n samples is the outer
product of two short ones, so that a sum over the samples is a small matrix product.
"""

import math

import numpy as np
from numpy.typing import NDArray

from sequences.numerics.arrays import Array

Complex = NDArray[np.complex128]

POWERS = 3
"""Samples are weighed by u to the power 0, 1 and 2: amplitude, frequency and drift."""


class Moments:
    """One record of samples, and its sums."""

    def __init__(self, samples: Array) -> None:
        count = len(samples)
        self._count = count
        self._columns = max(1, math.isqrt(count))
        self._rows = -(-count // self._columns)
        self._row_u = (2 * self._columns * np.arange(self._rows) - (count - 1)) / count
        self._column_u = 2 * np.arange(self._columns) / count
        self._weighed = [self._table(samples)]
        times = self._row_u[:, None] + self._column_u[None, :]
        for _ in range(1, POWERS):
            self._weighed.append(self._weighed[-1] * times)

    def _table(self, samples: Array) -> Array:
        table = np.zeros(self._rows * self._columns)
        table[: self._count] = samples
        return table.reshape(self._rows, self._columns)

    def of_samples(self, turns: Array) -> Complex:
        """Give, for each power and each k, the sum of sample times u to the power times exp(i k u)."""
        rows, columns = self._phasors(turns)
        lines = len(turns)
        wide = np.hstack((columns.real, columns.imag))
        sums = np.empty((POWERS, lines), dtype=np.complex128)
        for power, weighed in enumerate(self._weighed):
            along = weighed @ wide
            sums[power] = np.sum(rows * (along[:, :lines] + 1j * along[:, lines:]), axis=0)
        return sums

    def of_ones(self, turns: Array) -> Complex:
        """Give, for powers 0 to 4 and each k, the sum over all samples of u to the power times exp(i k u)."""
        rows, columns = self._phasors(turns)
        whole = self._rows - 1
        left = self._count - whole * self._columns
        powers = 2 * POWERS - 1
        in_rows = [(self._row_u[:whole, None] ** power * rows[:whole]).sum(axis=0) for power in range(powers)]
        in_columns = [(self._column_u[:, None] ** power * columns).sum(axis=0) for power in range(powers)]
        last = rows[whole] * columns[:left]
        last_u = (self._row_u[whole] + self._column_u[:left])[:, None]
        return np.stack(
            [
                sum(
                    (math.comb(power, part) * in_rows[power - part] * in_columns[part] for part in range(power + 1)),
                    np.sum(last_u**power * last, axis=0),
                )
                for power in range(powers)
            ]
        )

    def lines(self, turns: Array, phasors: Complex) -> Array:
        """Give the samples of lines: the real part of the sum of phasor times exp(i k u)."""
        rows, columns = self._phasors(turns)
        made: Array = ((rows * phasors) @ columns.T).real.reshape(-1)[: self._count]
        return made

    def _phasors(self, turns: Array) -> tuple[Complex, Complex]:
        return np.exp(1j * np.outer(self._row_u, turns)), np.exp(1j * np.outer(self._column_u, turns))
