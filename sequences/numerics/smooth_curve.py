"""A smooth curve through readings that no circuit explains: the best kind, plus a penalised spline for the rest.

How much the spline may bend is learnt from the readings by restricted maximum likelihood, so it vanishes where the kind
is right. P. H. C. Eilers, B. D. Marx, Flexible Smoothing with B-splines and Penalties, Statist. Sci. 11 (1996); S. N.
Wood, J. R. Statist. Soc. B 73 (2011) 3, for the likelihood and the Bayesian covariance (both from memory).
"""

from dataclasses import dataclass

import numpy as np

from sequences.numerics.candidates import FINEST_NOISE_DB, Candidate
from sequences.numerics.curves import Array, Curve
from sequences.numerics.readings import Readings

_KNOT_STEP = 0.1
_READINGS_PER_KNOT = 2.0
_STIFFNESS = 10.0 ** np.arange(-4.0, 7.0)
_RIDGE = 1e-6


@dataclass(frozen=True, eq=False)
class SmoothCurve(Curve):
    """A fitted curve with corrections linear in their parameters: how its own parameters move, then spline weights.

    The spline's knots stand evenly in asinh of the detuning in widths: close in the band, wider out in the skirts.
    """

    base: Curve
    base_parameters: Array
    knots: Array

    @property
    def parameter_names(self) -> tuple[str, ...]:
        """How the base's parameters move, then the weight of each knot in dB."""
        return (*self.base.parameter_names, *(f"knot_{i}_db" for i in range(len(self.knots))))

    @property
    def name(self) -> str:
        """What the trade calls it."""
        return "smooth curve"

    def place(self, parameters: Array) -> tuple[float, float]:  # noqa: ARG002 - the corrections hardly move it
        """See Curve."""
        return self.base.place(self.base_parameters)

    def design(self, frequency_hz: Array) -> Array:
        """Effect of each parameter on the level, shape (n, p)."""
        jacobian = self.base.jacobian(self.base_parameters, frequency_hz)
        step = self.knots[1] - self.knots[0]
        away = np.abs(warped(self.base_parameters, frequency_hz)[:, None] - self.knots) / step
        inner = 2.0 / 3.0 - away**2 + 0.5 * away**3
        outer = np.maximum(2.0 - away, 0.0) ** 3 / 6.0
        return np.concatenate((jacobian, np.where(away < 1.0, inner, outer)), axis=1)

    def level_and_jacobian(self, parameters: Array, frequency_hz: Array) -> tuple[Array, Array]:
        """See Curve."""
        design = self.design(frequency_hz)
        return self.base.level_db(self.base_parameters, frequency_hz) + design @ parameters, design


def warped(parameters: Array, frequency_hz: Array) -> Array:
    """Inverse hyperbolic sine of the exact detuning in widths, shape (n,)."""
    return np.asarray(np.arcsinh((frequency_hz - parameters[0] ** 2 / frequency_hz) / np.exp(parameters[1])))


def fit_smooth_curve(readings: Readings, lead: Candidate) -> Candidate | None:
    """Let a spline take up what the leading kind leaves over; None where there are too few readings for it."""
    place = warped(lead.parameters, readings.frequency_hz)
    low, high = float(place[0]), float(place[-1])
    intervals = min(int(np.ceil((high - low) / _KNOT_STEP)), int(len(readings) / _READINGS_PER_KNOT) - 3)
    if intervals < 4:  # noqa: PLR2004 - fewer pieces bend no more than the kinds themselves
        return None
    step = (high - low) / intervals
    curve = SmoothCurve(lead.curve, lead.parameters, low + step * np.arange(-1.0, intervals + 2.0))
    fixed, knots = len(lead.parameters), intervals + 3
    design = curve.design(readings.frequency_hz) * readings.weight[:, None]
    extra = _effect_columns(readings, lead) * readings.weight[:, None]
    design = np.concatenate((design, extra), axis=1)
    penalty = np.zeros((design.shape[1],) * 2)
    bend = np.diff(np.eye(knots), 2, axis=0)
    penalty[fixed : fixed + knots, fixed : fixed + knots] = bend.T @ bend + _RIDGE * np.eye(knots)
    return _stiffest_that_fits(readings, lead, curve, design, penalty)


def _effect_columns(readings: Readings, lead: Candidate) -> Array:
    """What the lead's effects of time do to each reading, shape (n, q)."""
    level, jacobian = lead.curve.level_and_jacobian(lead.parameters, readings.frequency_hz)
    _, widened = lead.effects.apply(readings, level, jacobian, lead.extra)
    return widened[:, jacobian.shape[1] :]


def _stiffest_that_fits(
    readings: Readings, lead: Candidate, curve: SmoothCurve, design: Array, penalty: Array
) -> Candidate:
    residual = lead.residual_db * readings.weight
    count, fixed = len(residual), len(lead.parameters) + len(lead.extra)
    information, gradient = design.T @ design, residual @ design
    scale = float(np.trace(information)) / len(information)
    tiny = 1e-10 * scale * np.eye(len(information))
    tried = []
    for stiffness in scale * _STIFFNESS:
        system = information + tiny + stiffness * penalty
        weights = np.linalg.solve(system, gradient)
        variance = float(residual @ (residual - design @ weights)) / (count - fixed) + FINEST_NOISE_DB**2
        bending = (len(system) - fixed) * np.log(stiffness)
        criterion = (count - fixed) * np.log(variance) + np.linalg.slogdet(system)[1] - bending
        tried.append((float(criterion), stiffness))
    criterion, stiffness = min(tried)
    inverse = np.linalg.inv(information + tiny + stiffness * penalty)
    weights = inverse @ gradient
    left = residual - design @ weights
    freedom = max(count - int(np.ceil(np.trace(inverse @ information))), 1)
    variance = float(left @ left) / freedom
    shown = design.shape[1] - len(lead.extra)
    return Candidate(
        curve,
        weights[:shown],
        inverse[:shown, :shown] * variance,
        left / readings.weight,
        float(np.sqrt(variance)),
        freedom,
        float(left @ left),
        lead.score + criterion - tried[-1][0] + float(np.log(count)),
        lead.effects,
        lead.extra + weights[shown:],
        np.sqrt(np.diag(inverse)[shown:] * variance),
    )
