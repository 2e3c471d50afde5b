"""Nonlinear least squares for a handful of parameters: Levenberg-Marquardt, lean enough to try every kind of curve.

The normal equations are formed after scaling each column to unit length, so that hertz and decibels may stand side by
side. The damping follows H. B. Nielsen, Damping Parameter in Marquardt's Method, IMM-REP-1999-05 (from memory).
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sequences.numerics.curves import Array

ResidualAndJacobian = Callable[[Array], tuple[Array, Array]]


@dataclass(frozen=True, slots=True)
class Solution:
    """Where a fit came to rest.

    residual: shape (n,), model minus data over its sigma. jacobian: shape (n, p), its derivative by the parameters.
    cost: the sum of squared residuals.
    """

    parameters: Array
    residual: Array
    jacobian: Array
    cost: float
    steps: int
    converged: bool

    def inverse_information(self) -> Array:
        """Covariance of the parameters for residuals of unit variance, shape (p, p); infinite where undetermined."""
        return inverse_information(self.jacobian)


def inverse_information(jacobian: Array) -> Array:
    """Invert J^T J, shape (p, p), with its columns scaled; infinite where the data leave a direction open."""
    length = np.sqrt(np.einsum("ij,ij->j", jacobian, jacobian))
    size = len(length)
    if not np.all(np.isfinite(length) & (length > 0.0)):
        return np.full((size, size), np.inf)
    scaled = jacobian / length
    try:
        inverse = np.linalg.inv(scaled.T @ scaled)
    except np.linalg.LinAlgError:
        return np.full((size, size), np.inf)
    if not np.all(np.diag(inverse) > 0.0):
        return np.full((size, size), np.inf)
    return np.asarray(inverse / np.outer(length, length))


def least_squares(
    model: ResidualAndJacobian, start: Array, *, tolerance: float = 1e-6, max_steps: int = 60
) -> Solution:
    """Find the parameters with the least sum of squared residuals, from one start.

    Args:
        model: Gives residual, shape (n,), and jacobian, shape (n, p), at parameters, shape (p,). Where it has no real
            value it may give NaN: such a step is not taken.
        start: Shape (p,), a point at which the model is finite.
        tolerance: A step is the last when its squared length, in units of the remaining variance, is below this: the
            default stops a thousandth of a sigma from the bottom.
        max_steps: Steps to try, taken or not.

    Returns:
        The best point reached. `converged` says whether the last step met the tolerance; believing the result is
        another matter, and not decided here.
    """
    parameters = start
    residual, jacobian = model(parameters)
    cost = float(residual @ residual)
    if not np.isfinite(cost):
        return Solution(parameters, residual, jacobian, np.inf, 0, False)
    freedom = max(len(residual) - len(start), 1)
    damping, growth = 1e-3, 2.0
    length = np.full(len(start), 1e-300)
    for count in range(1, max_steps + 1):
        length = np.maximum(length * 0.3, np.sqrt(np.einsum("ij,ij->j", jacobian, jacobian)))
        scaled = jacobian / length
        information, gradient = scaled.T @ scaled, scaled.T @ residual
        information.flat[:: len(start) + 1] += damping
        try:
            step = -np.linalg.solve(information, gradient)
        except np.linalg.LinAlgError:
            return Solution(parameters, residual, jacobian, cost, count, False)
        promised = float(damping * (step @ step) - step @ gradient)
        trial = parameters + step / length
        trial_residual, trial_jacobian = model(trial)
        trial_cost = float(trial_residual @ trial_residual)
        gain = (cost - trial_cost) / promised if promised > 0.0 else -1.0
        if gain > 0.0:
            parameters, residual, jacobian, cost = trial, trial_residual, trial_jacobian, trial_cost
            damping, growth = damping * max(0.1, 1.0 - (2.0 * gain - 1.0) ** 3), 2.0
        else:
            damping, growth = damping * growth, growth * 2.0
        if promised <= tolerance * max(trial_cost if gain > 0.0 else cost, 1e-24) / freedom or promised <= 0.0:
            return Solution(parameters, residual, jacobian, cost, count, True)
    return Solution(parameters, residual, jacobian, cost, max_steps, False)
