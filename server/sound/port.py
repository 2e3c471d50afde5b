"""What listening needs of a sound input. `server.wiring` gives one; tests give their own."""

from typing import Protocol

import numpy as np
from numpy.typing import NDArray


class Recording(Protocol):
    """A stretch of sound: one channel, full scale 1."""

    @property
    def samples(self) -> NDArray[np.float64]:
        """The samples."""

    @property
    def rate_hz(self) -> float:
        """Samples a second."""

    @property
    def lost(self) -> bool:
        """Whether some are missing in the middle."""


class SoundInput(Protocol):
    """Where sound comes from. Its methods raise `server.errors.SoundInputError`."""

    @property
    def name(self) -> str:
        """What the input calls itself."""

    def record(self, duration_s: float) -> Recording:
        """Give the sound from now on for so long."""

    def close(self) -> None:
        """Stop listening."""
