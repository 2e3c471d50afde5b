"""Ctrl-C and its kin as a stop that a run hears within one reading, and that ends a wait for the person at once."""

import signal
from collections.abc import Generator, Iterator
from contextlib import contextmanager, suppress
from queue import Empty, SimpleQueue
from types import FrameType

STOP_SIGNALS = ("SIGINT", "SIGTERM", "SIGHUP", "SIGQUIT")


class StopSwitch:
    """Set by a signal. A run looks at it; a prompt that waits is ended by it.

    It is no `threading.Event`: a signal is taken in the midst of what the thread does, and one that came while the
    thread held the event's lock, on its way into or out of a wait, would wait for that lock for ever.
    """

    def __init__(self) -> None:
        """Begin unset."""
        self._set = False
        self._wake: SimpleQueue[None] = SimpleQueue()
        self._at_prompt = False

    def is_set(self) -> bool:
        """Say whether a signal came."""
        return self._set

    def wait(self, duration_s: float) -> None:
        """Wait, or return as soon as a signal comes."""
        if not self._set:
            with suppress(Empty):
                self._wake.get(timeout=max(duration_s, 0.0))

    @contextmanager
    def at_prompt(self) -> Iterator[None]:
        """Let a signal end what happens in this block: reading a line would go on waiting otherwise.

        Raises:
            KeyboardInterrupt: a signal came.
        """
        self._at_prompt = True
        try:
            if self.is_set():
                raise KeyboardInterrupt
            yield
        finally:
            self._at_prompt = False

    def throw(self, _number: int, _frame: FrameType | None) -> None:
        """Take a signal."""
        self._set = True
        self._wake.put(None)
        if self._at_prompt:
            raise KeyboardInterrupt


@contextmanager
def stop_on_signals() -> Generator[StopSwitch]:
    """Hear the signals that ask a program to end, and give them back to whoever had them."""
    switch = StopSwitch()
    numbers = [number for name in STOP_SIGNALS if (number := getattr(signal, name, None)) is not None]
    before = {number: signal.signal(number, switch.throw) for number in numbers}
    try:
        yield switch
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
