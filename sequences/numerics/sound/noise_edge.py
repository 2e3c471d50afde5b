"""The upper edge of a noise's spectrum: where its density has fallen 3 dB below its flat part.

With no signal and the beat oscillator on, the spectrum of a receiver's noise is its passband seen from the beat
oscillator: the edge is the pitch heard. The density is Welch's (IEEE Trans. Audio Electroacoust. AU-15, 1967); the
uncertainty comes from leaving out one stretch of the record at a time (the jackknife of Quenouille and Tukey).
"""

from dataclasses import dataclass

import numpy as np
import scipy

from sequences.numerics.arrays import Array
from sequences.numerics.figures import Estimate

_FEWEST_BINS = 6
_RESOLUTION_HZ = 12.0
_SMOOTH_HZ = 150.0
_MOST_STRETCHES = 20
_LEAST_STRETCHES = 4
_FLAT_FROM, _FLAT_TO = 0.12, 0.68
"""Where the flat part lies between the two ends of the noise."""

_NEAR = (0.85, 0.04)
"""Densities, as shares of the flat part's, between which the slope at the edge is fitted."""

_HALF_POWER = 0.5
_ROUNDS = 8
_REAL = 1e-9


@dataclass(frozen=True, slots=True)
class _Density:
    frequency_hz: Array
    density: Array


def noise_edge(
    noise: Array, rate_hz: float, lowest_hz: float, highest_hz: float, lines_hz: tuple[float, ...] = ()
) -> Estimate | None:
    """Give the upper 3 dB edge of noise between two frequencies in Hz, None where its density does not fall there.

    Args:
        noise: samples without tones and hum.
        rate_hz: samples a second.
        lowest_hz: where to look from.
        highest_hz: where to look to.
        lines_hz: lines that were taken out; the density right at them is not used.
    """
    stretches = min(_MOST_STRETCHES, int(len(noise) / rate_hz * _RESOLUTION_HZ / 2))
    if stretches < _LEAST_STRETCHES:
        return None
    segment = max(16, round(rate_hz / _RESOLUTION_HZ))
    frequency_hz: Array = np.linspace(0.0, rate_hz * (segment // 2) / segment, segment // 2 + 1)
    keep = (frequency_hz >= lowest_hz) & (frequency_hz <= highest_hz)
    for line_hz in lines_hz:
        keep &= np.abs(frequency_hz - line_hz) > 1.5 * _RESOLUTION_HZ
    parts = [
        scipy.signal.welch(part, rate_hz, nperseg=segment, detrend=False)[1][keep]
        for part in np.array_split(noise, stretches)
    ]
    summed: Array = np.sum(parts, axis=0, dtype=np.float64)
    edge_hz = _edge_of(_Density(frequency_hz[keep], summed / stretches))
    if edge_hz is None:
        return None
    without = [_edge_of(_Density(frequency_hz[keep], (summed - part) / (stretches - 1))) for part in parts]
    known = np.array([each for each in without if each is not None])
    if len(known) < stretches:
        return None
    sigma_hz = float(np.sqrt((stretches - 1) * np.mean((known - known.mean()) ** 2)))
    return Estimate(edge_hz, sigma_hz)


def _edge_of(spectrum: _Density) -> float | None:
    if len(spectrum.density) < 2 * _SMOOTH_HZ / _RESOLUTION_HZ:
        return None
    smooth = _smoothed(spectrum)
    high = np.flatnonzero(smooth >= _HALF_POWER * smooth.max())
    first_hz, last_hz = spectrum.frequency_hz[high[0]], spectrum.frequency_hz[high[-1]]
    if spectrum.frequency_hz[-1] - last_hz < _SMOOTH_HZ / 2:
        return None  # flat to the end of what is looked at
    for _ in range(2):
        span_hz = last_hz - first_hz
        flat = (spectrum.frequency_hz >= first_hz + _FLAT_FROM * span_hz) & (
            spectrum.frequency_hz <= first_hz + _FLAT_TO * span_hz
        )
        if not flat.any():
            return None
        level = float(spectrum.density[flat].mean())
        edge_hz = _crossing(spectrum, smooth, level, last_hz)
        if edge_hz is None:
            return None
        last_hz = edge_hz
    return float(last_hz)


def _smoothed(spectrum: _Density) -> Array:
    width = max(1, round(_SMOOTH_HZ / _RESOLUTION_HZ)) | 1
    half = width // 2
    padded = np.pad(spectrum.density, half, mode="edge")
    smooth: Array = np.convolve(padded, np.ones(width) / width, mode="valid")
    return smooth


def _crossing(spectrum: _Density, smooth: Array, level: float, about_hz: float) -> float | None:
    """Fit the density's logarithm beside the edge by a cubic, and give where it is half of the flat part's.

    Densities scatter in proportion to themselves, so that the fit is one of relative errors (gamma errors with a
    logarithmic link: McCullagh and Nelder, Generalized Linear Models, 1989, chapter 8).
    """
    start, stop = _slope_around(smooth / level, int(np.searchsorted(spectrum.frequency_hz, about_hz)))
    frequency_hz, share = spectrum.frequency_hz[start:stop], spectrum.density[start:stop] / level
    if len(frequency_hz) < _FEWEST_BINS:
        return None
    middle, half = (frequency_hz[0] + frequency_hz[-1]) / 2, (frequency_hz[-1] - frequency_hz[0]) / 2
    places = (frequency_hz - middle) / half
    columns = np.stack((np.ones_like(places), places, places**2, places**3), axis=1)
    found = np.linalg.lstsq(columns, np.log(np.maximum(smooth[start:stop] / level, 1e-12)), rcond=None)[0]
    for _ in range(_ROUNDS):
        model = np.exp(columns @ found)
        found = np.linalg.lstsq(columns, columns @ found + (share - model) / model, rcond=None)[0]
    roots = np.roots([found[3], found[2], found[1], found[0] - np.log(_HALF_POWER)])
    real = [float(root.real) for root in roots if abs(root.imag) < _REAL and abs(root.real) <= 1.0]
    falling = [root for root in real if found[1] + 2 * found[2] * root + 3 * found[3] * root**2 < 0]
    return float(middle + half * falling[0]) if falling else None


def _slope_around(share: Array, about: int) -> tuple[int, int]:
    """Give the bins on the slope beside an edge: down from where the density begins to fall, to where it is low."""
    about = min(max(about, 0), len(share) - 1)
    start = about
    while start > 0 and share[start] < _NEAR[0]:
        start -= 1
    stop = about
    while stop < len(share) - 1 and share[stop] > _NEAR[1]:
        stop += 1
    return start, stop + 1
