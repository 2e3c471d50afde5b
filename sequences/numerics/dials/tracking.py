"""Tracking of a gang-tuned receiver: the oscillator held one IF above the signal circuit by padder and trimmer.

The oscillator can be exact at three points of the scale; between them it strays, and no adjusting cures that. With
the exact points f1, f2, f3 and the intermediate frequency i:

    a = f1 + f2 + f3,  b = f1 f2 + f1 f3 + f2 f3,  c = f1 f2 f3,  d = a + 2 i
    l = (b d - c) / (2 i),  m = l + i^2 + a d - b,  n = (c d + i^2 l) / m
    f_osc^2 = m (f^2 + n) / (f^2 + l)

(the letters are those of Reference Data for Radio Engineers and of Terman, Radio Engineers' Handbook, 1943, sec. 9).
Frequencies are in Hz, capacitances in farads, inductances in henries.
"""

import math
from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np
import scipy
from numpy.typing import ArrayLike

from sequences.numerics.arrays import Array


@dataclass(frozen=True, slots=True)
class ThreePointTracking:
    """The best any padder and trimmer can do with the oscillator exact at these three signal frequencies."""

    exact_hz: tuple[float, float, float]
    if_hz: float
    l_hz2: float
    m_hz2: float
    n_hz2: float

    def oscillator_hz(self, signal_hz: ArrayLike) -> Array:
        """Give the oscillator's frequency where the signal circuit is tuned to `signal_hz`, shape (n,) or scalar."""
        f2 = np.asarray(signal_hz, dtype=np.float64) ** 2
        return np.sqrt(self.m_hz2 * (f2 + self.n_hz2) / (f2 + self.l_hz2))

    def error_hz(self, signal_hz: ArrayLike) -> Array:
        """Give the residual error: the oscillator minus signal plus IF; positive means it runs high."""
        return self.oscillator_hz(signal_hz) - np.asarray(signal_hz, dtype=np.float64) - self.if_hz


def track_at(exact_hz: tuple[float, float, float], if_hz: float) -> ThreePointTracking:
    """Work out the tracking that is exact at three signal frequencies, the oscillator on the high side.

    Raises:
        ValueError: where the points are not three different frequencies above zero, or the IF is not above zero.
    """
    f1, f2, f3 = sorted(exact_hz)
    if not (0.0 < f1 < f2 < f3 and if_hz > 0.0):
        raise ValueError("Three-point tracking needs three different signal frequencies and an IF, all above zero.")
    a, b, c = f1 + f2 + f3, f1 * f2 + f1 * f3 + f2 * f3, f1 * f2 * f3
    d = a + 2.0 * if_hz
    l_hz2 = (b * d - c) / (2.0 * if_hz)
    m_hz2 = l_hz2 + if_hz**2 + a * d - b
    n_hz2 = (c * d + if_hz**2 * l_hz2) / m_hz2
    return ThreePointTracking((f1, f2, f3), if_hz, l_hz2, m_hz2, n_hz2)


class LeastWorst(StrEnum):
    """What is to be kept small over the band: the error in Hz, or as a share of the signal frequency."""

    ERROR = "error"
    SHARE = "share of the signal frequency"


def best_tracking(
    low_hz: float, high_hz: float, if_hz: float, *, least: LeastWorst = LeastWorst.ERROR
) -> ThreePointTracking:
    """Find the three exact points whose worst error over a band is smallest.

    At the best the error is equally large, with changing sign, at both ends of the band and at its two extremes
    between: Chebyshev's condition, solved from his points.

    Raises:
        ValueError: where the band or the IF makes no sense, or no such points are found.
    """
    if not (0.0 < low_hz < high_hz and if_hz > 0.0):
        raise ValueError("The best tracking points need a band from low to high and an IF, all above zero.")
    middle, half = 0.5 * (low_hz + high_hz), 0.5 * (high_hz - low_hz)
    start = middle + half * np.cos(np.pi * np.array([5.0, 3.0, 1.0]) / 6.0)

    def imbalance(exact_hz: Array) -> Array:
        peaks = _extremes(_sorted_points(exact_hz, low_hz, high_hz), (low_hz, high_hz), if_hz, least)
        unbalanced: Array = (peaks[1:] + peaks[:-1]) / float(np.abs(peaks).max())
        return unbalanced

    solved = scipy.optimize.root(imbalance, start, options={"eps": 1e-6})
    if not solved.success:
        raise ValueError("No three tracking points balance the error over this band; check the band and the IF.")
    return track_at(_sorted_points(solved.x, low_hz, high_hz), if_hz)


def _sorted_points(exact_hz: Array, low_hz: float, high_hz: float) -> tuple[float, float, float]:
    """Hold trial points inside the band and apart, so that the solver may step carelessly."""
    apart = 1e-3 * (high_hz - low_hz)
    first, second, third = sorted(float(f) for f in np.clip(exact_hz, low_hz + apart, high_hz - apart))
    second = max(second, first + apart)
    return first, second, max(third, second + apart)


def _extremes(
    exact_hz: tuple[float, float, float], band_hz: tuple[float, float], if_hz: float, least: LeastWorst
) -> Array:
    """Give the error at both ends of the band and at the extremes between the exact points, shape (4,), in order."""
    tracking = track_at(exact_hz, if_hz)

    def merit(signal_hz: float) -> float:
        error_hz = float(tracking.error_hz(signal_hz))
        return error_hz / signal_hz if least is LeastWorst.SHARE else error_hz

    between = [
        scipy.optimize.minimize_scalar(lambda f, sign=sign: sign * merit(f), bounds=(low, high), method="bounded").x
        for sign, low, high in ((1.0, *exact_hz[:2]), (-1.0, *exact_hz[1:]))
    ]
    return np.array([merit(f) for f in (band_hz[0], *between, band_hz[1])])


class TrimmerPlace(StrEnum):
    """Where the oscillator's trimmer stands."""

    ACROSS_GANG = "across the gang"
    ACROSS_COIL = "across the coil"


@dataclass(frozen=True, slots=True)
class OscillatorCircuit:
    """The oscillator's tuned circuit, seen with the gang it shares with the signal circuit.

    `trimmer_f`: across the gang, what the oscillator section has more than the signal section's own trimmer and
    strays; across the coil, all that stands there.
    """

    signal_inductance_h: float
    padder_f: float
    trimmer_f: float
    inductance_h: float
    trimmer_place: TrimmerPlace

    def frequency_hz(self, signal_hz: ArrayLike) -> Array:
        """Give the oscillator's frequency where the signal circuit is tuned to `signal_hz`, shape (n,) or scalar."""
        gang_f = signal_capacitance_f(signal_hz, self.signal_inductance_h)
        if self.trimmer_place is TrimmerPlace.ACROSS_GANG:
            total_f = _in_series(self.padder_f, gang_f + self.trimmer_f)
        else:
            total_f = self.trimmer_f + _in_series(self.padder_f, gang_f)
        return 1.0 / (2.0 * math.pi * np.sqrt(self.inductance_h * total_f))


def signal_capacitance_f(signal_hz: ArrayLike, inductance_h: float) -> Array:
    """Give the total capacitance that tunes `inductance_h` to each frequency: C = 1 / (L (2 pi f)^2)."""
    return 1.0 / (inductance_h * (2.0 * math.pi * np.asarray(signal_hz, dtype=np.float64)) ** 2)


def _in_series(first_f: float, second_f: Array) -> Array:
    return first_f * second_f / (first_f + second_f)


def circuit_for(tracking: ThreePointTracking, signal_inductance_h: float, place: TrimmerPlace) -> OscillatorCircuit:
    """Find padder, trimmer and coil that track so; both places of the trimmer give the same error curve."""
    k = 1.0 / ((2.0 * math.pi) ** 2 * signal_inductance_h)
    l_hz2, m_hz2, n_hz2 = tracking.l_hz2, tracking.m_hz2, tracking.n_hz2
    if place is TrimmerPlace.ACROSS_GANG:
        reciprocal = 1.0 / n_hz2 - 1.0 / l_hz2
        inductance_h = signal_inductance_h / m_hz2 * (l_hz2 + 1.0 / reciprocal)
        return OscillatorCircuit(signal_inductance_h, k * reciprocal, k / l_hz2, inductance_h, place)
    padder_f = k / n_hz2
    trimmer_f = padder_f / (l_hz2 / n_hz2 - 1.0)
    inductance_h = 1.0 / ((2.0 * math.pi) ** 2 * m_hz2 * trimmer_f)
    return OscillatorCircuit(signal_inductance_h, padder_f, trimmer_f, inductance_h, place)


@dataclass(frozen=True, slots=True)
class AdjusterEffects:
    """What each adjuster does to the oscillator, in Hz, at the signal frequencies asked for; each of shape (n,).

    For one picofarad more of trimmer, one percent more of padder and one percent more of coil.
    """

    trimmer_hz_per_pf: Array
    padder_hz_per_percent: Array
    coil_hz_per_percent: Array


def adjuster_effects(circuit: OscillatorCircuit, signal_hz: ArrayLike) -> AdjusterEffects:
    """Tell which adjuster rules where: the trimmer at the high end, the padder, relatively, at the low end."""
    before_hz = circuit.frequency_hz(signal_hz)
    trimmer = replace(circuit, trimmer_f=circuit.trimmer_f + 1e-12)
    padder = replace(circuit, padder_f=1.01 * circuit.padder_f)
    coil = replace(circuit, inductance_h=1.01 * circuit.inductance_h)
    trimmer_hz, padder_hz, coil_hz = (after.frequency_hz(signal_hz) - before_hz for after in (trimmer, padder, coil))
    return AdjusterEffects(trimmer_hz, padder_hz, coil_hz)
