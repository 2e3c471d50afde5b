"""A stop that a run hears at its next request, and that wakes at once whoever waits for something else meanwhile."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import Condition


class StopBell:
    """Set once, from any thread. What is waited for besides is changed inside `changing`.

    `look` is called by whoever asks whether it is set, and may set it.
    """

    def __init__(self, look: Callable[[], None] = lambda: None) -> None:
        """Begin unset."""
        self._look = look
        self._condition = Condition()
        self._set = False
        self.because: str | None = None
        """What the person must be told of it, where somebody else asked for it."""

    def is_set(self) -> bool:
        """Say whether the stop was asked for."""
        self._look()
        return self._set

    def set(self, because: str | None = None) -> None:
        """Ask for the stop, and wake whoever waits."""
        with self._condition:
            if not self._set:
                self.because = because
            self._set = True
            self._condition.notify_all()

    def wait(self, longest_s: float) -> bool:
        """Wait so long in seconds, or until set; say whether it is."""
        with self._condition:
            return self._condition.wait_for(lambda: self._set, longest_s)

    def wait_for(self, come: Callable[[], bool], longest_s: float | None = None) -> bool:
        """Wait until `come` or set, at most so long in seconds; say whether either is so."""
        with self._condition:
            return self._condition.wait_for(lambda: self._set or come(), longest_s)

    @contextmanager
    def changing(self) -> Iterator[None]:
        """Change what somebody may wait for, alone, and wake whoever does."""
        with self._condition:
            yield
            self._condition.notify_all()
