"""The tones of a record: as many as stand above the noise, fitted together with the hum so that none pulls another."""

from dataclasses import dataclass, replace

import numpy as np

from sequences.numerics.arrays import Array
from sequences.numerics.sound.drifting import fit_drifting
from sequences.numerics.sound.hum import find_hum
from sequences.numerics.sound.lines import LineFit, LineModel, fit_lines
from sequences.numerics.sound.spectrum import Spectrum, detection_ratio, spectrum_of

MOST_TONES = 5
_APART_BINS = 2.0
"""Two lines nearer than this, in bins of the record, are one line that is not steady."""

_FAR_DOWN = 1e-8
"""A line so far below the strongest, in power, is the arithmetic's or the converter's."""

_DRIFTS_BINS = 0.5
"""A tone that moves by more than this over the record, in bins, is fitted as one that drifts."""

_DRIFT_SIGMAS = 5.0
_ROUNDS = 2


@dataclass(frozen=True, slots=True)
class Tone:
    """One tone: frequency in the middle of the record, drift, peak value, variances for noise of variance one."""

    tone_hz: float
    drift_hz_per_s: float
    amplitude: float
    unit_variance_hz2: float
    unit_variance_drift: float
    unit_variance_amplitude: float


@dataclass(frozen=True, slots=True)
class Lines:
    """All that is periodic in a record: the tone listened for, other tones and hum harmonics with their peak values.

    `residual` is what they leave: the noise.
    """

    tone: Tone | None
    others: tuple[tuple[float, float], ...]
    hum_hz: float | None
    hum_amplitudes: tuple[float, ...]
    hum_orders: tuple[int, ...]
    residual: Array

    @property
    def lines_hz(self) -> tuple[float, ...]:
        """The frequencies of all lines."""
        tone = () if self.tone is None else (self.tone.tone_hz,)
        hum_hz = self.hum_hz or 0.0
        return (*tone, *(other_hz for other_hz, _ in self.others), *(hum_hz * order for order in self.hum_orders))


def find_lines(samples: Array, rate_hz: float, lowest_hz: float, highest_hz: float) -> Lines:
    """Find and fit the hum and the tones; the tone is the strongest between two frequencies, None without one."""
    first = spectrum_of(samples, rate_hz)
    fit = fit_lines(samples, rate_hz, find_hum(first))
    strongest = float(first.density.max(initial=0.0))
    start = _drifting_start(fit, rate_hz, strongest, (lowest_hz, highest_hz))
    if start is None:
        fit = _with_tones(samples, rate_hz, fit, strongest, (lowest_hz, highest_hz))
        start = _drift_of(fit, rate_hz, (lowest_hz, highest_hz))
    return _steady(fit, lowest_hz, highest_hz) if start is None else _drifting(samples, rate_hz, fit, start)


def _steady(fit: LineFit, lowest_hz: float, highest_hz: float) -> Lines:
    tones_hz, sizes = fit.model.tones_hz, fit.amplitudes.tolist()
    heard = bool(tones_hz) and lowest_hz <= tones_hz[0] <= highest_hz
    tone = None
    if heard:
        tone = Tone(
            tones_hz[0],
            fit.drift_hz_per_s,
            sizes[0],
            fit.unit_variance_hz2,
            fit.unit_variance_drift,
            fit.unit_variance_amplitude,
        )
    others = tuple(zip(tones_hz, sizes[: len(tones_hz)], strict=True))[1 if heard else 0 :]
    return _lines(tone, others, fit, fit.residual)


def _lines(tone: Tone | None, others: tuple[tuple[float, float], ...], fit: LineFit, residual: Array) -> Lines:
    hum = tuple(fit.amplitudes[len(fit.model.tones_hz) :].tolist())
    return Lines(tone, others, fit.model.comb_hz, hum, fit.model.orders, residual)


def _drifting(samples: Array, rate_hz: float, fit: LineFit, start: tuple[float, float]) -> Lines:
    """Fit the drifting tone and the other lines in turn, each with the other taken out."""
    model = replace(fit.model, tones_hz=tuple(hz for hz in fit.model.tones_hz if hz != start[0]))
    rest = fit_lines(samples, rate_hz, model) if model != fit.model else fit
    drifting = fit_drifting(rest.residual, rate_hz, *start)
    for _ in range(_ROUNDS):
        rest = fit_lines(samples - drifting.samples, rate_hz, model)
        drifting = fit_drifting(rest.residual + drifting.samples, rate_hz, drifting.tone_hz, drifting.drift_hz_per_s)
    tone = Tone(
        drifting.tone_hz,
        drifting.drift_hz_per_s,
        drifting.amplitude,
        drifting.unit_variance_hz2,
        drifting.unit_variance_drift,
        drifting.unit_variance_amplitude,
    )
    others = tuple(zip(model.tones_hz, rest.amplitudes[: len(model.tones_hz)].tolist(), strict=True))
    return _lines(tone, others, rest, rest.residual)


def _drift_of(fit: LineFit, rate_hz: float, between_hz: tuple[float, float]) -> tuple[float, float] | None:
    """Give where to begin with a drifting tone, where a steady fit shows that it drifts; None where it does not."""
    tones_hz = fit.model.tones_hz
    if not tones_hz or not between_hz[0] <= tones_hz[0] <= between_hz[1]:
        return None
    length_s = len(fit.residual) / rate_hz
    sigma = float(np.sqrt(fit.unit_variance_drift * np.mean(fit.residual**2)))
    moved_bins = abs(fit.drift_hz_per_s) * length_s**2
    drifts = moved_bins > _DRIFTS_BINS and abs(fit.drift_hz_per_s) > _DRIFT_SIGMAS * sigma
    return (tones_hz[0], fit.drift_hz_per_s) if drifts else None


def _drifting_start(
    fit: LineFit, rate_hz: float, strongest: float, between_hz: tuple[float, float]
) -> tuple[float, float] | None:
    """Give frequency and drift of the strongest tone where the quarters of the record show it move."""
    count = len(fit.residual)
    places = []
    for part in np.array_split(fit.residual, 4):
        spectrum = spectrum_of(part, rate_hz)
        found_hz = _highest(spectrum, LineModel(), 0.0, between_hz)
        if found_hz is None or spectrum.peak_near(found_hz) < _FAR_DOWN * strongest:
            return None
        places.append(found_hz)
    length_s = count / rate_hz
    slope, middle = np.polyfit((np.arange(4) - 1.5) * length_s / 4, places, 1)
    straight = np.abs(np.polyval((slope, middle), (np.arange(4) - 1.5) * length_s / 4) - places).max() < 4 / length_s
    return (float(middle), float(slope)) if straight and abs(slope) * length_s > 2 / length_s else None


def _with_tones(
    samples: Array, rate_hz: float, fit: LineFit, strongest: float, between_hz: tuple[float, float]
) -> LineFit:
    """Fit one tone after another, as long as one stands above the noise; the strongest of the band comes first."""
    while len(fit.model.tones_hz) < MOST_TONES:
        spectrum = spectrum_of(fit.residual, rate_hz)
        found_hz = _highest(spectrum, fit.model, strongest, (0.0, rate_hz / 2))
        if found_hz is None:
            break
        grown = fit_lines(samples, rate_hz, replace(fit.model, tones_hz=(*fit.model.tones_hz, found_hz)))
        tones_hz = grown.model.tones_hz
        inside = [between_hz[0] <= tone_hz <= between_hz[1] for tone_hz in tones_hz]
        best = int(np.argmax(np.where(inside, grown.amplitudes[: len(inside)], -1.0)))
        if best:
            order = [best, *(place for place in range(len(inside)) if place != best)]
            ordered = tuple(tones_hz[place] for place in order)
            grown = fit_lines(samples, rate_hz, replace(grown.model, tones_hz=ordered))
        fit = grown
    return fit


def _highest(spectrum: Spectrum, model: LineModel, strongest: float, between_hz: tuple[float, float]) -> float | None:
    """Give the frequency of the line that stands highest above the noise, or None where none does."""
    ratio = spectrum.density / spectrum.noise
    lowest_hz = max(between_hz[0], _APART_BINS * spectrum.bin_hz)
    open_to = (spectrum.frequency_hz >= lowest_hz) & (spectrum.frequency_hz <= between_hz[1])
    open_to &= spectrum.density > _FAR_DOWN * strongest
    for line_hz in model.lines_hz:
        open_to &= np.abs(spectrum.frequency_hz - line_hz) > _APART_BINS * spectrum.bin_hz
    if not open_to.any():
        return None
    place = int(np.argmax(np.where(open_to, ratio, 0.0)))
    return float(spectrum.frequency_hz[place]) if ratio[place] > detection_ratio(spectrum) else None
