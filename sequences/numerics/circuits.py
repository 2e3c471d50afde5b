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
    """The parameters of `curves.SkewedPair` whose curve is that of these circuits, exactly; shape (5,).

    Inverse power times z^2, z = (f / f0)^2, is a quartic in e = z - 1 on both sides; the coefficients are compared.
    """
    middle = (circuits.primary_hz * circuits.secondary_hz) ** 0.5
    e0, e1, _, e3, e4 = _quartic(circuits, middle)
    tilt = 0.5 * e1 / e0 - 1.0
    quadratic, quartic = e3 / e0 - tilt, e4 / e0
    per_width_squared = 0.5 * (quadratic + np.hypot(quadratic, 2.0 * np.sqrt(quartic)))
    relative_width = per_width_squared**-0.5
    return np.array(
        [
            middle,
            np.log(middle * relative_width),
            quartic / per_width_squared**2,
            2.0 * relative_width * tilt,
            -10.0 * np.log10(e0),
        ]
    )


def _quartic(circuits: CoupledCircuits, middle_hz: float) -> Array:
    """Coefficients, lowest first, of |(1 + j Q1 y1)(1 + j Q2 y2) + (kQ)^2|^2 z^2 in e = z - 1, z = (f/middle)^2."""
    first, second = (
        (q * middle_hz / f) * np.array([(middle_hz - f) * (middle_hz + f) / middle_hz**2, 1.0])
        for f, q in ((circuits.primary_hz, circuits.primary_q), (circuits.secondary_hz, circuits.secondary_q))
    )
    coupled = 1.0 + circuits.coupling**2
    through = np.array([coupled, coupled, 0.0]) - np.convolve(first, second)
    across = first + second
    return np.convolve(through, through) + np.append(np.convolve([1.0, 1.0], np.convolve(across, across)), 0.0)
