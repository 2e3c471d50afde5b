"""What is heard in a record: the tone, the hum, the noise and its upper edge, and what there is to doubt.

Levels are in dBFS as AES17 has them: a sine whose peaks reach full scale is 0 dBFS, and so is any signal of its mean
square. A tone's level less the noise's is therefore their ratio in dB.
"""

import math
from dataclasses import dataclass

import numpy as np

from sequences.numerics.arrays import Array
from sequences.numerics.figures import Doubt, DoubtName, Estimate
from sequences.numerics.sound.clipping import is_clipped
from sequences.numerics.sound.noise_edge import noise_edge
from sequences.numerics.sound.ratios import sinad_db
from sequences.numerics.sound.spectrum import band_power, density_around
from sequences.numerics.sound.tones import Lines, find_lines
from sequences.numerics.wording import say_db, say_hz

LEAST_SAMPLES = 256
LOWEST_TONE_HZ = 20.0
"""The lowest tone looked for where nobody says otherwise: sound inputs pass less still lower."""

NOISE_SPAN_HZ = 200.0
"""The noise that blurs a tone is read so far to either side of it, or over 60 bins of a short record."""

_SPAN_BINS = 60
_CLOSE_BINS = 6
_UNSTEADY = 3.0
"""Times the noise's density: what stands so close to a tone, and so much denser, is the tone's own unsteadiness."""

_DRIFT_SIGMAS = 5.0
_DRIFT_BINS = 0.3
_SECOND_TONE_DB = 20.0
_NEAR_HUM_BINS = 3.0
_DB = 10 / math.log(10)


@dataclass(frozen=True, slots=True)
class Heard:
    """What a record holds. Without a tone `tone_hz` and `tone_level_dbfs` are None.

    `drift_hz_per_s` is the tone's; `noise_level_dbfs` counts the noise of the band that was listened to, without tones
    and hum; `hum_hz` is the mains frequency, None without hum.
    """

    tone_hz: Estimate | None
    tone_level_dbfs: Estimate | None
    drift_hz_per_s: Estimate | None
    second_tone_hz: float | None
    hum_hz: float | None
    hum_level_dbfs: float | None
    noise_level_dbfs: float | None
    noise_edge_hz: Estimate | None
    sinad_db: float | None
    clipped: bool
    doubts: tuple[Doubt, ...]


def hear(
    samples: Array, rate_hz: float, between_hz: tuple[float, float] | None = None, *, with_edge: bool = True
) -> Heard:
    """Listen to a record.

    Args:
        samples: one channel, full scale 1; at least 256 samples.
        rate_hz: samples a second.
        between_hz: where the tone is, and which noise counts; all there is where left out.
        with_edge: look for the noise's edge too; live listening does without.

    Raises:
        ValueError: too few samples, or some that are not numbers.
    """
    samples = np.asarray(samples, dtype=np.float64)
    if samples.ndim != 1 or len(samples) < LEAST_SAMPLES or not np.isfinite(samples).all():
        raise ValueError(f"A record must have one channel of at least {LEAST_SAMPLES} samples, all of them numbers.")
    lowest_hz, highest_hz = between_hz or (0.0, rate_hz / 2)
    if not np.any(samples != samples[0]):
        return _silence()
    lines = find_lines(samples, rate_hz, max(lowest_hz, LOWEST_TONE_HZ), highest_hz)
    record = _Record(samples, rate_hz, lines, (lowest_hz, highest_hz))
    clipped = is_clipped(samples)
    noise = band_power(lines.residual, rate_hz, lowest_hz, highest_hz)
    edge = noise_edge(lines.residual, rate_hz, lowest_hz, highest_hz, lines.lines_hz) if with_edge else None
    return Heard(
        tone_hz=record.tone_hz,
        tone_level_dbfs=record.level_dbfs,
        drift_hz_per_s=record.drift,
        second_tone_hz=record.second_tone_hz,
        hum_hz=lines.hum_hz,
        hum_level_dbfs=record.hum_level_dbfs,
        noise_level_dbfs=_dbfs(2 * noise) if noise > 0 else None,
        noise_edge_hz=edge,
        sinad_db=record.sinad_db,
        clipped=clipped,
        doubts=(*_clipping(clipped), *record.doubts()),
    )


class _Record:
    """A record with its lines fitted, and the figures made of them."""

    def __init__(self, samples: Array, rate_hz: float, lines: Lines, between_hz: tuple[float, float]) -> None:
        self._samples, self._rate_hz, self._lines = samples, rate_hz, lines
        self._between_hz = between_hz
        self._length_s = len(samples) / rate_hz
        self.tone_hz: Estimate | None = None
        self.level_dbfs: Estimate | None = None
        self.drift: Estimate | None = None
        self._unsteady = False
        tone = lines.tone
        if tone is None:
            return
        density, self._unsteady = self._noise_density(tone.tone_hz)
        variance = density * rate_hz / 2
        amplitude = max(tone.amplitude, np.finfo(float).tiny)
        self.tone_hz = Estimate(tone.tone_hz, math.sqrt(tone.unit_variance_hz2 * variance))
        level_sigma_db = 2 * _DB * math.sqrt(tone.unit_variance_amplitude * variance) / amplitude
        self.level_dbfs = Estimate(_dbfs(amplitude**2), level_sigma_db)
        self.drift = Estimate(tone.drift_hz_per_s, math.sqrt(tone.unit_variance_drift * variance))

    def _noise_density(self, tone_hz: float) -> tuple[float, bool]:
        """Give the density of the noise that blurs the tone, and whether the tone's own unsteadiness makes it up."""
        residual = self._lines.residual
        span_hz = max(NOISE_SPAN_HZ, _SPAN_BINS / self._length_s)
        wide = density_around(residual, self._rate_hz, tone_hz, span_hz)
        close = density_around(residual, self._rate_hz, tone_hz, _CLOSE_BINS / self._length_s)
        return (close, True) if close > _UNSTEADY * wide else (wide, False)

    @property
    def second_tone_hz(self) -> float | None:
        """The strongest other tone of the band, unless it is a harmonic of the first or far below it."""
        tone = self._lines.tone
        if tone is None:
            return None
        lowest_hz, highest_hz = self._between_hz
        least = tone.amplitude * 10 ** (-_SECOND_TONE_DB / 20)
        others = [
            (size, other_hz)
            for other_hz, size in self._lines.others
            if size > least and lowest_hz <= other_hz <= highest_hz and not self._is_harmonic(other_hz, tone.tone_hz)
        ]
        return max(others)[1] if others else None

    def _is_harmonic(self, other_hz: float, tone_hz: float) -> bool:
        order = round(other_hz / tone_hz)
        return order > 1 and abs(other_hz - order * tone_hz) < order / self._length_s

    @property
    def hum_level_dbfs(self) -> float | None:
        """The level of all harmonics of the hum together."""
        sizes = self._lines.hum_amplitudes
        return _dbfs(float(np.sum(np.square(sizes)))) if sizes else None

    @property
    def sinad_db(self) -> float | None:
        """SINAD of the tone, over the whole record."""
        if self._lines.tone is None:
            return None
        sizes = [*(size for _, size in self._lines.others), *self._lines.hum_amplitudes]
        left = float(np.mean(self._lines.residual**2)) + float(np.sum(np.square(sizes))) / 2
        return sinad_db(self._samples, left) if left > 0 else None

    def doubts(self) -> tuple[Doubt, ...]:
        """Name what keeps a figure from being taken at its word."""
        if self.tone_hz is None or self.level_dbfs is None or self.drift is None:
            return (Doubt(DoubtName.NO_TONE, self._no_tone()),)
        named: list[Doubt] = []
        if self._drifts(self.drift):
            moved = say_hz(abs(self.drift.value) * self._length_s)
            text = f"The tone drifted by {moved} during the recording. Its frequency in the middle is given."
            named.append(Doubt(DoubtName.TONE_DRIFT, text))
        if self._unsteady:
            named.append(Doubt(DoubtName.UNSTEADY, "The tone is not steady. The uncertainty allows for that."))
        if self.second_tone_hz is not None:
            text = f"There is a second tone at {say_hz(self.second_tone_hz)}. Check that the right one is read."
            named.append(Doubt(DoubtName.SECOND_TONE, text))
        return (*named, *self._hum_doubts(self.tone_hz.value, self.level_dbfs.value))

    def _drifts(self, drift: Estimate) -> bool:
        moved_bins = abs(drift.value) * self._length_s**2
        return abs(drift.value) > _DRIFT_SIGMAS * drift.sigma and moved_bins > _DRIFT_BINS

    def _no_tone(self) -> str:
        lowest_hz, highest_hz = self._between_hz
        where = f"between {say_hz(max(lowest_hz, LOWEST_TONE_HZ))} and {say_hz(highest_hz)}"
        hum = "" if self._lines.hum_hz is None else f", only hum at {say_hz(self._lines.hum_hz)}"
        return f"No tone stands above the noise {where}{hum}. Check the lead, the volume and the beat oscillator."

    def _hum_doubts(self, tone_hz: float, level_dbfs: float) -> tuple[Doubt, ...]:
        hum_hz, hum_dbfs = self._lines.hum_hz, self.hum_level_dbfs
        if hum_hz is None or hum_dbfs is None:
            return ()
        order = round(tone_hz / hum_hz)
        if order and abs(tone_hz - order * hum_hz) < _NEAR_HUM_BINS / self._length_s:
            text = f"The tone lies on a harmonic of the hum ({order} x {say_hz(hum_hz)}). Move the source a little."
            return (Doubt(DoubtName.ON_HUM, text),)
        if hum_dbfs > level_dbfs:
            text = f"The hum at {say_hz(hum_hz)} is {say_db(hum_dbfs - level_dbfs)} above the tone and was set aside."
            return (Doubt(DoubtName.HUM, text),)
        return ()


def _silence() -> Heard:
    text = "The recording is silent. Check the lead, and that the right input is chosen and not muted."
    return Heard(None, None, None, None, None, None, None, None, None, False, (Doubt(DoubtName.NO_TONE, text),))


def _clipping(clipped: bool) -> tuple[Doubt, ...]:
    if not clipped:
        return ()
    return (
        Doubt(
            DoubtName.CLIPPED, "The sound input is overdriven. Turn the volume down; the level is not to be trusted."
        ),
    )


def _dbfs(twice_mean_square: float) -> float:
    return 10 * math.log10(max(twice_mean_square, 1e-30))
