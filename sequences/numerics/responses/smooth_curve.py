"""A smooth curve through readings that no circuit explains: the best kind, plus a penalised spline for the rest.

How much the spline may bend is learnt from the readings by restricted maximum likelihood, so it vanishes where the kind
is right. P. H. C. Eilers, B. D. Marx, Flexible Smoothing with B-splines and Penalties, Statist. Sci. 11 (1996); S. N.
Wood, J. R. Statist. Soc. B 73 (2011) 3, for the likelihood and the Bayesian covariance (both from memory).
"""

from dataclasses import dataclass

import numpy as np

from sequences.numerics.arrays import Array
from sequences.numerics.responses.candidates import FINEST_NOISE_DB, Candidate
from sequences.numerics.responses.curves import Curve
from sequences.numerics.responses.readings import Readings
from sequences.numerics.responses.starts import Outline

_KNOT_STEP = 0.05
_READINGS_PER_KNOT = 2.0
_STIFFNESS = 10.0 ** np.arange(-7.0, 7.0)
_RIDGE = 1e-6
_LEAST_LENGTH = 1e-150


@dataclass(frozen=True, eq=False)
class SmoothCurve(Curve):
    """A fitted curve with corrections linear in their parameters: how its own parameters move, then spline weights.

    The spline's knots stand evenly in asinh of the detuning in widths: close in the band, wider out in the skirts.
    """

    base: Curve
    base_parameters: Array
    middle_hz: float
    width_hz: float
    knots: Array

    @property
    def parameter_names(self) -> tuple[str, ...]:
        """How the base's parameters move, then the weight of each knot in dB."""
        return (*self.base.parameter_names, *(f"knot_{i}_db" for i in range(len(self.knots))))

    @property
    def name(self) -> str:
        """What the trade calls it."""
        return "smooth curve"

    @property
    def leans(self) -> bool:
        """See Curve."""
        return True

    def place(self, parameters: Array) -> tuple[float, float]:  # noqa: ARG002 - the corrections hardly move it
        """See Curve."""
        return self.middle_hz, self.width_hz

    def design(self, frequency_hz: Array) -> Array:
        """Effect of each parameter on the level, shape (n, p)."""
        jacobian = self.base.jacobian(self.base_parameters, frequency_hz)
        step = self.knots[1] - self.knots[0]
        away = np.abs(warped(frequency_hz, self.middle_hz, self.width_hz)[:, None] - self.knots) / step
        inner = 2.0 / 3.0 - away**2 + 0.5 * away**3
        outer = np.maximum(2.0 - away, 0.0) ** 3 / 6.0
        return np.concatenate((jacobian, np.where(away < 1.0, inner, outer)), axis=1)

    def level_and_jacobian(self, parameters: Array, frequency_hz: Array) -> tuple[Array, Array]:
        """See Curve."""
        design = self.design(frequency_hz)
        return self.base.level_db(self.base_parameters, frequency_hz) + design @ parameters, design


def warped(frequency_hz: Array, middle_hz: float, width_hz: float) -> Array:
    """Inverse hyperbolic sine of the detuning in widths, shape (n,)."""
    return np.arcsinh((frequency_hz - middle_hz) / width_hz)


def fit_smooth_curve(readings: Readings, lead: Candidate, rough: Outline) -> Candidate | None:
    """Let a spline take up what the leading kind leaves over; None where there are too few readings for it."""
    place = warped(readings.frequency_hz, rough.top_hz, rough.width_hz)
    low, high = float(place[0]), float(place[-1])
    intervals = min(int(np.ceil((high - low) / _KNOT_STEP)), int(len(readings) / _READINGS_PER_KNOT) - 3)
    if intervals < 4:  # noqa: PLR2004 - fewer pieces bend no more than the kinds themselves
        return None
    step = (high - low) / intervals
    curve = SmoothCurve(
        lead.curve, lead.parameters, rough.top_hz, rough.width_hz, low + step * np.arange(-1.0, intervals + 2.0)
    )
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
    count, free = len(residual), int(np.count_nonzero(np.diag(penalty) == 0.0))
    bent = np.diag(penalty) > 0.0
    length = np.sqrt(np.einsum("ij,ij->j", design, design)) + _LEAST_LENGTH
    length[bent] = np.sqrt(np.mean(length[bent] ** 2))
    scaled = design / length
    information, gradient = scaled.T @ scaled + _RIDGE**2 * np.eye(len(length)), residual @ scaled
    tried = []
    for stiffness in _STIFFNESS:
        system = information + stiffness * penalty
        weights = np.linalg.solve(system, gradient)
        variance = float(residual @ (residual - scaled @ weights)) / (count - free) + FINEST_NOISE_DB**2
        bending = (len(system) - free) * np.log(stiffness)
        criterion = (count - free) * np.log(variance) + np.linalg.slogdet(system)[1] - bending
        tried.append((float(criterion), float(stiffness)))
    criterion, stiffness = min(tried)
    inverse = np.linalg.inv(information + stiffness * penalty)
    left = residual - scaled @ (inverse @ gradient)
    freedom = max(count - int(np.ceil(np.trace(inverse @ information))), 1)
    variance = float(left @ left) / freedom
    weights, covariance = inverse @ gradient / length, inverse / np.outer(length, length) * variance
    shown = design.shape[1] - len(lead.extra)
    return Candidate(
        curve,
        weights[:shown],
        covariance[:shown, :shown],
        left / readings.weight,
        design.T,
        float(np.sqrt(variance)),
        freedom,
        float(left @ left),
        lead.score + criterion - tried[-1][0] + float(np.log(count)),
        lead.effects,
        lead.extra + weights[shown:],
        np.sqrt(np.diag(covariance)[shown:]),
    )
