"""Real time for runs."""

import time
from typing import Protocol


class Wait(Protocol):
    """What a run is told to end by; `threading.Event` and `server.bench.stop_switch.StopSwitch` fit."""

    def wait(self, timeout: float, /) -> object:
        """Wait that long in seconds, or until set."""


class RunClock:
    """Seconds on a clock that never jumps; a wait ends early when the run is told to stop.

    `speed` is how many times as fast as real time a practice bench goes.
    """

    def __init__(self, stop: Wait, speed: float = 1.0) -> None:
        self._stop = stop
        self._speed = speed

    def now(self) -> float:
        """Seconds of the run's time."""
        return time.monotonic() * self._speed

    def sleep(self, duration_s: float) -> None:
        """Wait, or return as soon as the run is told to stop."""
        self._stop.wait(duration_s / self._speed)
