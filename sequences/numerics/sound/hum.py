"""Mains hum: a comb of harmonics of 50 or 60 Hz, found so that it can be set aside."""

import numpy as np
from numpy.typing import NDArray

from sequences.numerics.arrays import Array
from sequences.numerics.sound.lines import LineModel
from sequences.numerics.sound.spectrum import Spectrum, detection_ratio

MAINS_HZ = (50.0, 60.0)
_DETUNING = 0.006
"""How far from nominal the mains is looked for: three sigmas of its usual spread."""

_HIGHEST_HZ = 3000.0
_LOW_ORDERS = 4
"""One of the first four harmonics is heard in any hum: a full-wave rectifier gives the second."""

_NOISE_PEAK = 5.0
_MOST_COMBS = 401
_STANDS_OUT_DB = 10.0
"""A harmonic so far above its neighbours is a tone that lies there by chance. Common practice, no source."""


def find_hum(spectrum: Spectrum) -> LineModel:
    """Give the comb of the hum in a spectrum, without harmonics where there is none."""
    best, score = LineModel(), 0.0
    for nominal_hz in MAINS_HZ:
        model, gained = _best_comb(spectrum, nominal_hz)
        if gained > score:
            best, score = model, gained
    return best


def _best_comb(spectrum: Spectrum, nominal_hz: float) -> tuple[LineModel, float]:
    """Try combs around a nominal mains frequency, and give the one whose harmonics stand highest above the noise."""
    highest_hz = min(_HIGHEST_HZ, float(spectrum.frequency_hz[-1]) * 0.98)
    orders = np.arange(1, int(highest_hz / nominal_hz) + 1)
    if not len(orders):
        return LineModel(), 0.0
    step_hz = float(spectrum.frequency_hz[1] - spectrum.frequency_hz[0])
    count = min(round(2 * _DETUNING * nominal_hz * len(orders) / step_hz), _MOST_COMBS) | 1
    combs_hz = nominal_hz * (1 + np.linspace(-_DETUNING, _DETUNING, count))
    places = np.minimum(np.rint(np.outer(combs_hz, orders) / step_hz).astype(int), len(spectrum.density) - 1)
    ratios = (spectrum.density / spectrum.noise)[places]
    heard = (ratios > detection_ratio(spectrum)) & ~_stands_out(ratios, orders)
    heard &= (orders <= _LOW_ORDERS) | _beside(heard)
    audible = heard[:, :_LOW_ORDERS].any(axis=1)
    scores = np.where(audible, np.where(heard, np.log(np.maximum(ratios, 1.0)), 0.0).sum(axis=1), 0.0)
    best = int(np.argmax(scores))
    if scores[best] <= 0.0:
        return LineModel(), 0.0
    chosen = tuple(int(order) for order in orders[heard[best]])
    return LineModel(comb_hz=float(combs_hz[best]), nominal_hz=nominal_hz, orders=chosen), float(scores[best])


def _stands_out(ratios: Array, orders: NDArray[np.int_]) -> NDArray[np.bool_]:
    """Say which harmonics of each comb rise so far above those beside them that they are tones."""
    padded = np.pad(ratios, ((0, 0), (2, 2)), constant_values=1.0)
    beside = np.max([padded[:, shift : shift + len(orders)] for shift in (0, 1, 3, 4)], axis=0)
    far: NDArray[np.bool_] = (orders > _LOW_ORDERS) & (
        ratios > 10 ** (_STANDS_OUT_DB / 10) * np.maximum(beside, _NOISE_PEAK)
    )
    return far


def _beside(heard: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Say which harmonics have another that is heard among the two on either side: a comb has no lone teeth."""
    padded = np.pad(heard, ((0, 0), (2, 2)))
    count = heard.shape[1]
    beside: NDArray[np.bool_] = np.any([padded[:, shift : shift + count] for shift in (0, 1, 3, 4)], axis=0)
    return beside
