"""What could not be written when it happened, and is written once the record answers again: how runs ended."""

import logging
from collections.abc import Callable
from threading import Event, Lock, Thread

from server.errors import StoreError

TRY_EVERY_S = 2.0


class LateWrites:
    """Tries again, in order, for as long as the record is open. Safe to use from several threads."""

    def __init__(self, *, try_every_s: float = TRY_EVERY_S) -> None:
        self._try_every_s = try_every_s
        self._lock = Lock()
        self._waiting: list[Callable[[], None]] = []
        self._ended = Event()
        self._thread: Thread | None = None

    def write(self, entry: Callable[[], None]) -> None:
        """Write now, or later.

        Raises:
            StoreError: it is not written yet.
        """
        try:
            entry()
        except StoreError:
            with self._lock:
                self._waiting.append(entry)
                if self._thread is None:
                    self._thread = Thread(target=self._keep_trying, name="late writes", daemon=True)
                    self._thread.start()
            raise

    def end(self) -> None:
        """Try for the last time."""
        self._ended.set()
        if self._thread is not None:
            self._thread.join()
            self._try_all()

    def _keep_trying(self) -> None:
        while not self._ended.wait(self._try_every_s):
            self._try_all()

    def _try_all(self) -> None:
        with self._lock:
            try:
                while self._waiting:
                    self._waiting[0]()
                    del self._waiting[0]
            except StoreError as error:
                logging.getLogger(__name__).warning("what is late is still not in the record: %s", error)
