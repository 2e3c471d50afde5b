"""Keeps at a source that has not confirmed that its output is off, until it has."""

import logging
from collections.abc import Callable
from threading import Condition, Thread

FIRST_PAUSE_S = 0.5
LONGEST_PAUSE_S = 10.0


class OutputWatch:
    """A thread that tries again and again while there is an alarm, with growing pauses.

    `try_again` switches the output off once more, wherever the source is by now; whether it confirmed is seen by
    whoever raised the alarm.
    """

    def __init__(self, try_again: Callable[[], None], *, first_pause_s: float = FIRST_PAUSE_S) -> None:
        self._try_again = try_again
        self._first_pause_s = first_pause_s
        self._changed = Condition()
        self._alarmed = False
        self._ended = False
        self._thread: Thread | None = None

    def alarm(self, *, on: bool) -> None:
        """Begin or cease to try."""
        with self._changed:
            self._alarmed = on
            if on and self._thread is None and not self._ended:
                self._thread = Thread(target=self._keep_at_it, name="output watch", daemon=True)
                self._thread.start()
            self._changed.notify_all()

    def end(self) -> None:
        """Try no more. Does not wait for an attempt that is under way."""
        with self._changed:
            self._ended = True
            self._changed.notify_all()

    def _keep_at_it(self) -> None:
        pause_s = self._first_pause_s
        while True:
            with self._changed:
                self._changed.wait_for(lambda: self._alarmed or self._ended)
                over = self._changed.wait_for(lambda: self._ended or not self._alarmed, pause_s)
                if self._ended:
                    return
            if over:
                pause_s = self._first_pause_s
                continue
            pause_s = min(2 * pause_s, LONGEST_PAUSE_S)
            try:
                self._try_again()
            except Exception:
                logging.getLogger(__name__).exception("the source could not be told to switch off; the watch goes on")
