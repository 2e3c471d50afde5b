"""The spectrum of a record: where a line stands out, and how dense the noise is beside it.

Densities are mean squares per hertz, one-sided, of samples whose full scale is 1.
"""

import math
from dataclasses import dataclass

import numpy as np
import scipy

from sequences.numerics.arrays import Array

_FINER = 4
"""Bins of the padded spectrum for each bin of the record: a peak is then found to an eighth of a bin."""

_BLOCK_BINS = 64
"""Bins whose median tells the noise: lines in fewer than half of them do not move it."""

_ROUNDING = 1e-14
"""Noise below this share of the strongest line is the arithmetic's own."""


@dataclass(frozen=True, slots=True)
class Spectrum:
    """A padded Hann spectrum: frequencies in Hz, density, and the noise's density under each."""

    frequency_hz: Array
    density: Array
    noise: Array
    bin_hz: float
    """Resolution of the record: one over its length."""

    def ratio(self, frequency_hz: float) -> float:
        """Give how far the highest density within one bin of a frequency stands above the noise there."""
        near = self._near(frequency_hz)
        return float(np.max(self.density[near] / self.noise[near]))

    def peak_near(self, frequency_hz: float) -> float:
        """Give the highest density within one bin of a frequency."""
        return float(np.max(self.density[self._near(frequency_hz)]))

    def _near(self, frequency_hz: float) -> slice:
        place = round(frequency_hz / (self.frequency_hz[1] - self.frequency_hz[0]))
        place = min(max(place, 0), len(self.density) - 1)
        return slice(max(place - _FINER, 0), place + _FINER + 1)


def spectrum_of(samples: Array, rate_hz: float) -> Spectrum:
    """Give the spectrum of samples."""
    count = len(samples)
    window = scipy.signal.windows.hann(count, sym=False)
    padded = scipy.fft.next_fast_len(_FINER * count, real=True)
    transformed = scipy.fft.rfft((samples - samples.mean()) * window, padded)
    density = 2 * np.abs(transformed) ** 2 / (rate_hz * float(window @ window))
    frequency_hz = np.arange(len(density)) * rate_hz / padded
    noise = _noise_under(density, _FINER)
    noise = np.maximum(noise, max(_ROUNDING * float(density.max(initial=0.0)), np.finfo(float).tiny))
    return Spectrum(frequency_hz, density, noise, rate_hz / count)


def detection_ratio(spectrum: Spectrum, false_alarm: float = 1e-5) -> float:
    """Give how far a peak must stand above the noise's density, so that noise alone hardly ever does.

    Densities of noise are exponentially distributed (Kay, Fundamentals of Statistical Signal Processing: Detection
    Theory, 1998, section 7.6): of M independent ones the highest exceeds r with a chance of M exp(-r).
    """
    return math.log(len(spectrum.density) / false_alarm)


def density_around(residual: Array, rate_hz: float, frequency_hz: float, half_width_hz: float) -> float:
    """Give the mean density of what a fit leaves, within so many hertz of a frequency."""
    count = len(residual)
    transformed = scipy.fft.rfft(residual)
    density = 2 * np.abs(transformed) ** 2 / (rate_hz * count)
    places = np.arange(len(density)) * rate_hz / count
    inside = np.abs(places - frequency_hz) <= half_width_hz
    inside[0] = False
    return float(density[inside].mean()) if inside.any() else float(density[1:].mean())


def band_power(residual: Array, rate_hz: float, lowest_hz: float, highest_hz: float) -> float:
    """Give the mean square of samples between two frequencies."""
    count = len(residual)
    power = 2 * np.abs(scipy.fft.rfft(residual)) ** 2 / count**2
    places = np.arange(len(power)) * rate_hz / count
    power[0] /= 2
    if count % 2 == 0:
        power[-1] /= 2
    return float(power[(places >= lowest_hz) & (places <= highest_hz)].sum())


def _noise_under(density: Array, finer: int) -> Array:
    """Give the noise's density under each bin, from medians of blocks: ln 2 of an exponential's mean."""
    plain = density[::finer]
    blocks = max(1, len(plain) // _BLOCK_BINS)
    parts = np.array_split(plain, blocks)
    middles = np.cumsum([len(part) for part in parts]) - np.array([len(part) for part in parts]) / 2
    medians = np.array([float(np.median(part)) for part in parts]) / math.log(2)
    under: Array = np.interp(np.arange(len(density)) / finer, middles, medians)
    return under
