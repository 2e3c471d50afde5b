"""A stretch of sound."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Recording:
    """Samples of one channel, full scale 1. `lost` says that some are missing in the middle."""

    samples: Samples
    rate_hz: float
    lost: bool = False


class SoundInput(Protocol):
    """Where sound comes from."""

    @property
    def name(self) -> str:
        """What the input calls itself."""

    def record(self, duration_s: float) -> Recording:
        """Give the sound from now on for so long; a file gives what comes next in it.

        Raises:
            SoundError: there is no sound to be had.
        """

    def close(self) -> None:
        """Stop listening. Never raises."""


def loudest_channel(frames: Samples) -> Samples:
    """Give the one channel that carries most: a receiver's lead may be on either side of a stereo socket."""
    if frames.ndim == 1:
        return frames
    powers = np.var(frames, axis=0)
    chosen: Samples = np.ascontiguousarray(frames[:, int(np.argmax(powers))])
    return chosen
