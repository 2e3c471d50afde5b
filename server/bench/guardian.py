"""A process of its own that outlives this one, and switches the source off where this one died with it on.

What no signal handler hears (a kill, a crash of a library, the system short of memory) it hears as the end of a pipe.
"""

import logging
import subprocess
import sys
from collections.abc import Generator
from contextlib import contextmanager, suppress
from threading import Event, Lock, Thread

from server.bench.file import BY_HAND, SourceEntry

BEAT_EVERY_S = 1.0
ON, OFF, BEAT = "on", "off", "beat"
END_S = 5.0


class Guardian:
    """The near end of the pipe. Safe to use from several threads; never raises: the bench goes on without it."""

    def __init__(self, source: SourceEntry) -> None:
        """Start the process."""
        command = [sys.executable, "-m", "server.guardian_process", source.model_dump_json()]
        self._lock = Lock()
        self._ended = Event()
        # A session of its own, so that what a terminal sends to all its processes does not reach it.
        self._process = subprocess.Popen(command, stdin=subprocess.PIPE, text=True, start_new_session=True)  # noqa: S603 - our own program
        Thread(target=self._beat_on, name="guardian's beat", daemon=True).start()

    def goes_on(self) -> None:
        """Say that the output is about to go on."""
        self._tell(ON)

    def is_off(self) -> None:
        """Say that the output is confirmed off."""
        self._tell(OFF)

    def close(self) -> None:
        """Let it end; where the output may still be on, it first tries on by itself."""
        self._ended.set()
        with self._lock, suppress(OSError):
            if self._process.stdin is not None:
                self._process.stdin.close()
        with suppress(subprocess.TimeoutExpired):
            self._process.wait(END_S)

    def _beat_on(self) -> None:
        while not self._ended.wait(BEAT_EVERY_S):
            self._tell(BEAT)

    def _tell(self, word: str) -> None:
        with self._lock:
            stdin = self._process.stdin
            if stdin is None or stdin.closed:
                return
            try:
                stdin.write(f"{word}\n")
                stdin.flush()
            except OSError:
                logging.getLogger(__name__).warning("the guardian of the source's output is gone")
                self._ended.set()
                with suppress(OSError):
                    stdin.close()


@contextmanager
def guarded(source: SourceEntry | None) -> Generator[Guardian | None]:
    """Have a source guarded for as long as the block lasts; nobody guards none, nor one that a person sets."""
    if source is None or source.address == BY_HAND:
        yield None
        return
    guardian = Guardian(source)
    try:
        yield guardian
    finally:
        guardian.close()
