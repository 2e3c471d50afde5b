"""Notices that the program, or the whole machine, stood still: while it did, nobody watched over the source."""

import sys
import time
from collections.abc import Callable
from threading import Event, Lock, Thread

LONGEST_GAP_S = 10.0
"""As long as the page that operates may be gone."""

BEAT_EVERY_S = 0.5


def machine_s() -> float:
    """Give seconds on a clock that goes on while the machine sleeps, and never jumps.

    `time.monotonic` stands still through a suspend on Linux and macOS; see clock_gettime(2) on each.
    """
    if hasattr(time, "CLOCK_BOOTTIME"):
        return time.clock_gettime(time.CLOCK_BOOTTIME)
    if sys.platform == "darwin":
        return time.clock_gettime(time.CLOCK_MONOTONIC)
    return time.monotonic()


def gap_text(gap_s: float) -> str:
    """Say what a gap meant."""
    return (
        f"The program stood still for {gap_s:.0f} s (suspended, or stopped), so the run was stopped and the source's "
        "output switched off."
    )


class Pulse:
    """Beats in a thread of its own, and at each look of whoever is about to act. Safe to use from several threads.

    `stood_still` is called with the gap in seconds, by whoever notices it first and before anybody goes on.
    """

    def __init__(
        self,
        stood_still: Callable[[float], None],
        *,
        now_s: Callable[[], float] = machine_s,
        longest_gap_s: float = LONGEST_GAP_S,
    ) -> None:
        self._stood_still = stood_still
        self._now_s = now_s
        self._longest_gap_s = longest_gap_s
        self._lock = Lock()
        self._last_s = now_s()
        self._ended = Event()

    def start(self) -> None:
        """Begin to beat."""
        self._last_s = self._now_s()
        Thread(target=self._beat_on, name="pulse", daemon=True).start()

    def end(self) -> None:
        """Beat no more."""
        self._ended.set()

    def beat(self) -> None:
        """Look whether time has been lost since the last beat."""
        with self._lock:
            now_s = self._now_s()
            gap_s, self._last_s = now_s - self._last_s, now_s
            if gap_s > self._longest_gap_s and not self._ended.is_set():
                self._stood_still(gap_s)

    def _beat_on(self) -> None:
        while not self._ended.wait(BEAT_EVERY_S):
            self.beat()
