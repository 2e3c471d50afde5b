"""The bench's time. Instruments and receivers are handed one of these and never look at any other clock."""

import threading
import time
from typing import Protocol


class Clock(Protocol):
    """Seconds since the bench was switched on, and waiting."""

    def now_s(self) -> float:
        """Give the seconds since the bench was switched on."""

    def wait(self, duration_s: float) -> None:
        """Let `duration_s` pass."""


class WallClock:
    """Real time, or so many times as fast: an hour of warm-up, and every delay, then passes in less.

    `release` ends every wait at once, so that a bench can stop while an instrument is busy.
    """

    def __init__(self, speed: float = 1.0) -> None:
        self._speed = speed
        self._start_s = time.monotonic()
        self._released = threading.Event()

    def now_s(self) -> float:
        """Give the seconds since this clock was made, as they count here."""
        return (time.monotonic() - self._start_s) * self._speed

    def wait(self, duration_s: float) -> None:
        """Sleep, unless released."""
        if duration_s > 0.0:
            self._released.wait(duration_s / self._speed)

    def release(self) -> None:
        """End the present waits and refuse all later ones."""
        self._released.set()


class SteppedClock:
    """Time that passes only when someone waits or steps it: an instrument's delay costs nothing but still counts."""

    def __init__(self) -> None:
        self._now_s = 0.0
        self._lock = threading.Lock()

    def now_s(self) -> float:
        """Give the seconds stepped so far."""
        return self._now_s

    def wait(self, duration_s: float) -> None:
        """Step by `duration_s`."""
        with self._lock:
            self._now_s += max(duration_s, 0.0)

    def release(self) -> None:
        """Nothing to end: no wait ever takes time."""
