"""The sound socket: a client that asks for so many samples gets them once they have sounded.

`?` is answered with one line of JSON that says the rate; a whole number N with N samples, 32 bit floats, little-endian.
"""

import json
from collections.abc import Callable

import numpy as np

from simulators.clock import Clock
from simulators.physics.audio import Scene, make_sound
from simulators.wire import Reply

RATE_HZ = 12_000
_LONGEST = 60 * RATE_HZ


class SoundSocket:
    """One listener's conversation."""

    def __init__(self, scene: Callable[[], Scene], clock: Clock, dice: np.random.Generator) -> None:
        """Listen to what `scene` gives whenever it is asked."""
        self._scene = scene
        self._clock = clock
        self._dice = dice

    def answer(self, line: bytes) -> Reply | None:
        """Answer one request; what is none is answered by silence and the end of the line."""
        if line.strip() == b"?":
            return Reply(json.dumps({"rate_hz": RATE_HZ}).encode() + b"\n")
        try:
            count = int(line)
        except ValueError:
            return Reply(b"", cut=True)
        if not 0 < count <= _LONGEST:
            return Reply(b"", cut=True)
        start_s = self._clock.now_s()
        self._clock.wait(count / RATE_HZ)
        samples = make_sound(self._scene(), count, RATE_HZ, start_s, self._dice)
        return Reply(samples.astype("<f4").tobytes())

    def overrun(self) -> None:
        """Take no notice: nobody asks for so much."""
