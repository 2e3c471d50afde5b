"""The live feed: numbered items in a ring, so that a page that lost its stream misses nothing when it comes back."""

import asyncio
from collections import deque
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from threading import Lock

from server.plain import dump

RING_ITEMS = 10_000
RING_CHARACTERS = 8_000_000
"""Both bounds hold: a run of fits is long in characters, one of readings in items."""


@dataclass(frozen=True, slots=True)
class Item:
    """One thing that happened. `body` is JSON; None says that the bench changed, and each page is told its own view."""

    number: int
    body: str | None


@dataclass(frozen=True, slots=True)
class Batch:
    """What followed a number. `missed` says that the ring no longer reaches back to it."""

    items: tuple[Item, ...]
    missed: bool
    last: int


class LiveFeed:
    """What the worker publishes and every stream reads at its own pace. Publishing is safe from any thread."""

    def __init__(self, *, first_number: int) -> None:
        """Begin numbering at `first_number`, above any number that an earlier life of the service gave out."""
        self._lock = Lock()
        self._ring: deque[Item] = deque()
        self._characters = 0
        self._last = first_number - 1
        self._closed = False
        self._ringers: dict[asyncio.AbstractEventLoop, _Ringer] = {}

    @property
    def closed(self) -> bool:
        """Whether the service is shutting down and every stream should end."""
        return self._closed

    @property
    def last(self) -> int:
        """The number of the latest item."""
        with self._lock:
            return self._last

    def publish(self, payload: object) -> None:
        """Add an item."""
        self._add(dump(payload))

    def publish_bench_change(self) -> None:
        """Let every page know that the bench changed."""
        self._add(None)

    def since(self, number: int) -> Batch:
        """Give the items after a number."""
        with self._lock:
            first = self._ring[0].number if self._ring else self._last + 1
            missed = not first - 1 <= number <= self._last
            count = 0 if missed else self._last - number
            items = tuple(self._ring[index] for index in range(len(self._ring) - count, len(self._ring)))
            return Batch(items, missed, self._last)

    def close(self) -> None:
        """End every stream."""
        self._closed = True
        self._wake()

    @property
    def listeners(self) -> int:
        """How many streams are open."""
        with self._lock:
            return sum(len(ringer.bells) for ringer in self._ringers.values())

    @contextmanager
    def listening(self) -> Iterator["_Bell"]:
        """Be woken by new items, in the running event loop, for as long as the block lasts."""
        loop, bell = asyncio.get_running_loop(), _Bell()
        with self._lock:
            ringer = self._ringers.setdefault(loop, _Ringer(loop))
            ringer.bells.add(bell)
        try:
            yield bell
        finally:
            with self._lock:
                ringer.bells.discard(bell)
                if not ringer.bells:
                    self._ringers.pop(loop, None)

    def _add(self, body: str | None) -> None:
        with self._lock:
            self._last += 1
            self._ring.append(Item(self._last, body))
            self._characters += len(body or "")
            while len(self._ring) > RING_ITEMS or self._characters > RING_CHARACTERS:
                self._characters -= len(self._ring.popleft().body or "")
        self._wake()

    def _wake(self) -> None:
        with self._lock:
            for ringer in self._ringers.values():
                ringer.ask()


class _Ringer:
    """Rings all bells of one event loop: whoever publishes asks once, however many listen."""

    def __init__(self, loop: asyncio.AbstractEventLoop) -> None:
        self._loop = loop
        self._asked = False
        self.bells: set[_Bell] = set()

    def ask(self) -> None:
        """Have them rung, from any thread, under the feed's lock."""
        if self._asked:
            return
        self._asked = True  # before the loop can ring and take it back
        with suppress(RuntimeError):  # the loop may have ended meanwhile, and with it the streams
            self._loop.call_soon_threadsafe(self._ring)

    def _ring(self) -> None:
        self._asked = False  # before ringing: what comes from here on asks again
        for bell in tuple(self.bells):
            bell.ring()


class _Bell:
    """One stream's bell."""

    def __init__(self) -> None:
        self._rung = asyncio.Event()

    def ring(self) -> None:
        """Ring, in the event loop."""
        self._rung.set()

    async def wait(self, longest_s: float) -> bool:
        """Wait for the bell, and say whether it rang."""
        try:
            await asyncio.wait_for(self._rung.wait(), longest_s)
        except TimeoutError:
            return False
        self._rung.clear()
        return True
