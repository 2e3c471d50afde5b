"""What comes out of a receiver's loudspeaker: a note, the noise beside it, and the hum of its supply, as samples."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_FULL_SCALE = 1.0
_HUM_SHAPE = ((1, 0.25), (2, 1.0), (4, 0.35), (6, 0.12))
"""Harmonics of the mains behind a full-wave rectifier, by how strong they are: the ripple is at twice the mains."""


@dataclass(frozen=True, slots=True)
class Scene:
    """What is to be heard. Voltages are full scale 1.

    Attributes:
        note_hz: the note, None where there is none.
        note_peak: its peak.
        noise_rms: the noise's root mean square over the whole band.
        noise_hz: where the noise's shape is known, shape (n,), rising.
        noise_shape: its amplitude there, relative, shape (n,); nothing beyond.
        mains_hz: the hum's mains frequency.
        hum_peak: the peak of its strongest harmonic.
    """

    note_hz: float | None
    note_peak: float
    noise_rms: float
    noise_hz: Floats
    noise_shape: Floats
    mains_hz: float = 50.0
    hum_peak: float = 0.0


def make_sound(scene: Scene, count: int, rate_hz: float, start_s: float, dice: np.random.Generator) -> Floats:
    """Make samples of a scene from a moment on; what is louder than full scale is cut off.

    Args:
        scene: what is to be heard.
        count: how many samples.
        rate_hz: samples a second.
        start_s: when the first is; the note and the hum go on from record to record.
        dice: the noise's.
    """
    at_s = start_s + np.arange(count) / rate_hz
    heard = _shaped_noise(scene, count, rate_hz, dice)
    if scene.note_hz is not None:
        heard += scene.note_peak * np.sin(math.tau * scene.note_hz * at_s)
    for order, share in _HUM_SHAPE:
        heard += scene.hum_peak * share * np.sin(math.tau * order * scene.mains_hz * at_s + order)
    return np.clip(heard, -_FULL_SCALE, _FULL_SCALE)


def _shaped_noise(scene: Scene, count: int, rate_hz: float, dice: np.random.Generator) -> Floats:
    white = np.fft.rfft(dice.standard_normal(count))
    places_hz = np.fft.rfftfreq(count, 1 / rate_hz)
    weights = np.interp(places_hz, scene.noise_hz, scene.noise_shape, left=0.0, right=0.0)
    made: Floats = np.fft.irfft(white * weights, count)
    rms = math.sqrt(float(np.mean(np.square(weights)))) or 1.0
    return made * (scene.noise_rms / rms)
