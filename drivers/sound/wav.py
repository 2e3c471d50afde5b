"""WAV files: any of the common sample formats, read whole."""

import struct
import warnings
from pathlib import Path

import numpy as np
import scipy

from drivers.sound.errors import SoundError
from drivers.sound.recording import Recording, Samples, loudest_channel


def read_wav(path: Path) -> Recording:
    """Read a WAV file: 8 to 32 bit whole numbers, or floats. Of several channels the loudest counts.

    Raises:
        SoundError: it cannot be read, or holds no sound; the sentence says why.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", scipy.io.wavfile.WavFileWarning)  # chunks that are not sound
            rate_hz, frames = scipy.io.wavfile.read(path)
    except OSError as error:
        raise SoundError(str(path), f"{path} cannot be read ({error.strerror}). Check the path.") from error
    except (ValueError, EOFError, KeyError, struct.error, ZeroDivisionError) as error:
        raise SoundError(
            str(path), f"{path} is not a WAV file that can be read ({error}). Save it as 16 bit PCM."
        ) from error
    if not frames.size or rate_hz <= 0:
        raise SoundError(str(path), f"{path} holds no sound. Record it again.")
    samples = loudest_channel(_full_scale_one(frames))
    if not np.isfinite(samples).all():
        raise SoundError(str(path), f"{path} holds samples that are not numbers. Record it again.")
    return Recording(samples, float(rate_hz))


def _full_scale_one(frames: np.ndarray) -> Samples:
    """Scale whole numbers so that full scale is 1; bytes are unsigned, 24 bits come in the upper part of 32."""
    if frames.dtype.kind == "f":
        return frames.astype(np.float64)
    if frames.dtype == np.uint8:
        return (frames.astype(np.float64) - 128.0) / 128.0
    return frames.astype(np.float64) / (float(np.iinfo(frames.dtype).max) + 1.0)


class WavInput:
    """A WAV file as a sound input: each recording goes on where the last one ended, and begins again at the end."""

    def __init__(self, path: Path) -> None:
        """Open a file.

        Raises:
            SoundError: it cannot be read.
        """
        self._recording = read_wav(path)
        self._path = path
        self._next = 0

    @property
    def name(self) -> str:
        """The file's path."""
        return str(self._path)

    def record(self, duration_s: float) -> Recording:
        """Give the next stretch of the file, or all of it where it is shorter."""
        whole = self._recording
        count = min(len(whole.samples), max(1, round(duration_s * whole.rate_hz)))
        if self._next + count > len(whole.samples):
            self._next = 0
        start, self._next = self._next, self._next + count
        return Recording(whole.samples[start : self._next], whole.rate_hz)

    def close(self) -> None:
        """Nothing stays open."""
