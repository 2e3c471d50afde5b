"""The top of a passband, from readings across it: the frequency of the strongest response, and how much it may miss."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
DEGREES = (2, 4, 6, 8)
FINE = 2001


@dataclass(frozen=True, slots=True)
class PassbandTop:
    """The frequency in Hz of the strongest response, and by how much the level there may be short of the true top."""

    frequency_hz: float
    short_db: float


def passband_top(frequency_hz: Floats, level_db: Floats) -> PassbandTop:
    """Find the top, ripple and all, on the polynomial that AICc (Hurvich and Tsai, Biometrika 76, 1989) prefers.

    Args:
        frequency_hz: Shape (n,), across the passband, each twice or more.
        level_db: Shape (n,).
    """
    middle, half = 0.5 * (frequency_hz.min() + frequency_hz.max()), 0.5 * np.ptp(frequency_hz)
    at = (frequency_hz - middle) / half
    fits = [_fit(at, level_db, degree) for degree in DEGREES if len(np.unique(at)) > degree + 1]
    _, curve, noise_db = min(fits, key=lambda fit: fit[0])
    fine = np.linspace(-1.0, 1.0, FINE)
    shape = np.polynomial.chebyshev.chebval(fine, curve)
    top = int(np.argmax(shape))
    design = np.polynomial.chebyshev.chebvander(at, len(curve) - 1)
    covariance = noise_db**2 * np.linalg.inv(design.T @ design)
    # Where the curve stands so near its own top that noise could have hidden a higher place, that is what is missed.
    rows = np.polynomial.chebyshev.chebvander(fine, len(curve) - 1)
    apart = rows - rows[top]
    unsure = np.sqrt(np.maximum(np.einsum("ij,jk,ik->i", apart, covariance, apart), 0.0))
    short_db = float(np.max(shape - shape[top] + unsure))
    return PassbandTop(float(middle + half * fine[top]), max(short_db, 0.0))


def _fit(at: Floats, level_db: Floats, degree: int) -> tuple[float, Floats, float]:
    """Give AICc, the Chebyshev coefficients, and the noise of one reading in dB."""
    curve = np.asarray(np.polynomial.chebyshev.chebfit(at, level_db, degree), dtype=np.float64)
    left = level_db - np.polynomial.chebyshev.chebval(at, curve)
    count, terms = len(at), degree + 2
    misfit = max(float(left @ left), 1e-18)
    evidence = count * math.log(misfit / count) + 2.0 * terms + 2.0 * terms * (terms + 1) / max(count - terms - 1, 1)
    return evidence, curve, math.sqrt(misfit / max(count - degree - 1, 1))
