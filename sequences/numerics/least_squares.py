"""Nonlinear least squares for a handful of parameters: Levenberg-Marquardt, lean enough to try every kind of curve.

The normal equations are formed after scaling each column to unit length, so that hertz and decibels may stand side by
side. The damping follows H. B. Nielsen, Damping Parameter in Marquardt's Method, IMM-REP-1999-05 (from memory).
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from sequences.numerics.arrays import Array

ResidualAndJacobian = Callable[[Array], tuple[Array, Array]]

_FIRST_DAMPING = 1e-3
_LEAST_COST = 1e-24
_LEAST_LENGTH = 1e-150
_PATIENCE = 3
_LONG_PATIENCE = 6
_STUCK = 2.0**6
_OPTIMISM = 4.0
_OPTIMISM_WHEN_NEAR = 2.0


@dataclass(frozen=True, slots=True)
class Solution:
    """Where a fit came to rest.

    residual: shape (n,), model minus data over its sigma. jacobian: shape (n, p), its derivative by the parameters.
    cost: the sum of squared residuals. inverse_information: covariance of the parameters for residuals of unit
    variance, shape (p, p); infinite where undetermined or where the fit did not converge.
    """

    parameters: Array
    residual: Array
    jacobian: Array
    cost: float
    steps: int
    converged: bool
    inverse_information: Array


def inverse_information(jacobian: Array) -> Array:
    """Invert J^T J, shape (p, p), with its columns scaled; infinite where the data leave a direction open."""
    information = jacobian.T @ jacobian
    length = np.sqrt(information.diagonal())
    if not np.all(np.isfinite(length) & (length > 0.0)):
        return np.full(information.shape, np.inf)
    return _inverse(information / (length[:, None] * length), length)


def _inverse(scaled: Array, length: Array) -> Array:
    """Invert an information matrix that was scaled to a unit diagonal."""
    from scipy.linalg.lapack import dposv  # noqa: PLC0415 - keeps scipy out of the start of every command

    _, inverse, failed = dposv(scaled, np.eye(len(length)))
    if failed:
        return np.full(scaled.shape, np.inf)
    return np.asarray(inverse / (length[:, None] * length))


@np.errstate(over="ignore", invalid="ignore")  # a step too far may overflow; its cost says so, and it is not taken
def least_squares(
    model: ResidualAndJacobian,
    start: Array,
    *,
    tolerance: float = 1e-6,
    negligible: float = 0.0,
    max_steps: int = 60,
    hopeless: float = np.inf,
    near: bool = False,
    known: tuple[Array, Array] | None = None,
) -> Solution:
    """Find the parameters with the least sum of squared residuals, from one start.

    Args:
        model: Gives residual, shape (n,), and jacobian, shape (n, p), at parameters, shape (p,). Where it has no real
            value it may give NaN: such a step is not taken.
        start: Shape (p,), a point at which the model is finite.
        tolerance: A step is the last when its squared length, in units of the remaining variance, is below this: the
            default stops a thousandth of a sigma from the bottom.
        negligible: A step is the last, too, when it promises to lower the sum of squares by no more than this.
        max_steps: Steps to try, taken or not.
        hopeless: Give up early where the sum of squares is not on its way below this.
        near: Whether the start is so near that the first step already tells how far the sum of squares can fall.
        known: What the model gives at the start, if that is known already.

    Returns:
        The best point reached. `converged` says whether the last step met the tolerance; believing the result is
        another matter, and not decided here.
    """
    best = _Point(start, *(known or model(start)))
    freedom = max(len(best.residual) - len(start), 1)
    damping, growth, count = _FIRST_DAMPING, 2.0, 0
    while math.isfinite(best.cost) and count < max_steps and growth < _STUCK:
        count += 1
        step, promised = best.step(damping)
        if step is None:
            damping, growth = damping * growth, growth * 2.0
            continue
        if promised <= max(tolerance * max(best.cost, _LEAST_COST) / freedom, negligible):
            return best.solution(count, step, promised)
        if near and best.cost - _OPTIMISM_WHEN_NEAR * promised > hopeless:
            break
        trial = _Point(best.parameters + step, *model(best.parameters + step))
        fall = best.cost - trial.cost
        gain = fall / promised if promised > 0.0 else -1.0
        if gain > 0.0:
            best = trial
            damping, growth = damping * max(0.1, 1.0 - (2.0 * gain - 1.0) ** 3), 2.0
        else:
            damping, growth = damping * growth, growth * 2.0
        hoped = promised if count < _LONG_PATIENCE or not fall < promised else fall
        if count >= _PATIENCE and best.cost - _OPTIMISM * hoped > hopeless:
            break
    return best.solution(count)


class _Point:
    """A point of the search with its normal equations, formed once and solved for each damping that is tried."""

    __slots__ = ("cost", "gradient", "information", "jacobian", "length", "parameters", "residual")

    def __init__(self, parameters: Array, residual: Array, jacobian: Array) -> None:
        self.parameters, self.residual, self.jacobian = parameters, residual, jacobian
        self.cost = float(residual @ residual)
        if math.isfinite(self.cost):
            information = jacobian.T @ jacobian
            self.length = np.sqrt(information.diagonal()) + _LEAST_LENGTH
            self.information = information / (self.length[:, None] * self.length)
            self.gradient = (residual @ jacobian) / self.length

    def step(self, damping: float) -> tuple[Array | None, float]:
        """The damped step, shape (p,), and the fall of the sum of squares that it promises (not positive: none).

        None where the damped matrix is not positive definite to rounding: more damping is needed.
        """
        from scipy.linalg.lapack import dposv  # noqa: PLC0415 - keeps scipy out of the start of every command

        damped = self.information.copy()
        damped.flat[:: len(damped) + 1] += damping
        _, scaled, failed = dposv(damped, -self.gradient)
        if failed:
            return None, 0.0
        return scaled / self.length, float(damping * (scaled @ scaled) - scaled @ self.gradient)

    def solution(self, steps: int, last_step: Array | None = None, promised: float = 0.0) -> Solution:
        """This point, or where the last step leads: so short a step that the model is a straight line along it."""
        if last_step is None:
            unknown = np.full((len(self.parameters),) * 2, np.inf)
            return Solution(self.parameters, self.residual, self.jacobian, self.cost, steps, False, unknown)
        return Solution(
            self.parameters + last_step,
            self.residual + self.jacobian @ last_step,
            self.jacobian,
            self.cost - promised,
            steps,
            True,
            _inverse(self.information, self.length),
        )
