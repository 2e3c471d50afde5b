"""A smooth curve through readings whose noise is known, where no formula for the curve is."""

import math

import numpy as np

from sequences.numerics.arrays import Array


def smooth_within_noise(position: Array, value: Array, sigma: Array) -> tuple[Array, Array]:
    """Smooth readings by penalised second differences, just as stiffly as predicts best.

    The stiffness minimises the unbiased estimate of the prediction risk for known noise (Craven and Wahba, Numer.
    Math. 31, 1979, sec. 1); the uncertainty is the Bayesian one, noise variance times the hat matrix's diagonal
    (Wahba, J. R. Statist. Soc. B 45, 1983).

    Args:
        position: Shape (n,), strictly rising, n of three or more; spacing need not be even.
        value: Shape (n,), any unit.
        sigma: Shape (n,), the one-sigma noise of each value, above zero.

    Returns:
        The smoothed values and their one-sigma uncertainties, both of shape (n,).
    """
    bend = _second_difference(position)
    weight = np.diag(sigma**-2.0)
    penalty = bend.T @ bend * (np.trace(weight) / np.trace(bend.T @ bend))
    best_risk, best_hat = math.inf, np.eye(len(position))
    for stiffness in np.logspace(-6.0, 4.0, 41):
        hat = np.linalg.solve(weight + stiffness * penalty, weight)
        misfit = (value - hat @ value) / sigma
        risk = float(misfit @ misfit + 2.0 * np.trace(hat))
        if risk < best_risk:
            best_risk, best_hat = risk, hat
    return best_hat @ value, sigma * np.sqrt(np.clip(np.diag(best_hat), 0.0, 1.0))


def _second_difference(position: Array) -> Array:
    """Build the matrix, shape (n - 2, n), that takes values at uneven positions to changes of slope."""
    gap = np.diff(position)
    rows = np.arange(len(position) - 2)
    matrix = np.zeros((len(position) - 2, len(position)))
    matrix[rows, rows] = 1.0 / gap[:-1]
    matrix[rows, rows + 1] = -1.0 / gap[:-1] - 1.0 / gap[1:]
    matrix[rows, rows + 2] = 1.0 / gap[1:]
    return matrix
