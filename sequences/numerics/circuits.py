"""Two coupled circuits in the workshop's own figures, and the way from there to the parameters of a fit and back."""

from dataclasses import dataclass

import numpy as np

from sequences.numerics.curves import Array


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
    """The skewed pair's parameters whose curve is that of these circuits, exactly; shape (5,)."""
    return parameters_of_quartic(_quartic(circuits), (circuits.primary_hz * circuits.secondary_hz) ** 0.5)


def _quartic(circuits: CoupledCircuits) -> Array:
    """Inverse power times z^2 as a polynomial in z = (f / f0)^2, highest power first, f0 the geometric middle."""
    middle = (circuits.primary_hz * circuits.secondary_hz) ** 0.5
    tuned = [
        (q * middle / f, (f / middle) ** 2)
        for f, q in ((circuits.primary_hz, circuits.primary_q), (circuits.secondary_hz, circuits.secondary_q))
    ]
    first, second = (np.array([slope, -slope * place]) for slope, place in tuned)
    through = np.polysub(np.array([1.0 + circuits.coupling**2, 0.0]), np.polymul(first, second))
    across = np.polyadd(first, second)
    return np.asarray(np.polyadd(np.polymul(through, through), np.polymul([1.0, 0.0], np.polymul(across, across))))


def parameters_of_quartic(coefficients: Array, unit_hz: float) -> Array:
    """Turn an inverse power q(z) / z^2, z = (f / unit_hz)^2, into the five parameters of `curves.SkewedPair`.

    Args:
        coefficients: Shape (5,), highest power first.
        unit_hz: Frequency at which z is 1.

    Returns:
        Shape (5,); holds NaN where no such pair exists (the polynomial is not positive at its middle or its ends).
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        middle = (coefficients[4] / coefficients[0]) ** 0.25
        k4, k3, k2, k1, _ = coefficients * middle ** np.arange(4, -1, -1)
        at_middle = k1 + k2 + k3 + 2.0 * k4
        quartic = k4 / at_middle
        quadratic = (0.5 * (k3 + k1) + 4.0 * k4) / at_middle
        per_width_squared = 0.5 * (quadratic + np.sqrt(quadratic * quadratic + 4.0 * quartic))
        relative_width = per_width_squared**-0.5
        frequency_hz = unit_hz * np.sqrt(middle)
        return np.array(
            [
                frequency_hz,
                np.log(frequency_hz * relative_width),
                quartic / per_width_squared**2,
                relative_width * (k3 - k1) / at_middle,
                -10.0 * np.log10(at_middle / middle**2),
            ]
        )
