"""The operator's seat: one page or program operates the bench at a time, and its open stream is its heartbeat."""

from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from threading import Lock

from server.errors import NamelessClient, NotOperator

CLIENT_HEADER = "X-Peakwright-Client"


class OperatorSeat:
    """Who operates. Safe to use from several threads.

    The first to act takes the seat. It is free again when its holder has had no open stream for `patience_s`.
    """

    def __init__(self, *, clock: Callable[[], float], patience_s: float) -> None:
        self._clock = clock
        self._patience_s = patience_s
        self._lock = Lock()
        self._holder: str | None = None
        self._heard_s = 0.0
        self._streams: Counter[str] = Counter()

    @property
    def holder(self) -> str | None:
        """The client that operates, or None."""
        with self._lock:
            return self._holder

    def state_for(self, client: str | None) -> dict[str, bool]:
        """Tell a client whether anybody operates, and whether it is itself."""
        with self._lock:
            return {"present": self._holder is not None, "you": client is not None and client == self._holder}

    def act(self, client: str | None) -> bool:
        """Let a client act, and sit it down where the seat is free.

        Returns:
            Whether the seat changed hands.

        Raises:
            NamelessClient: the request has no name.
            NotOperator: another client operates.
        """
        with self._lock:
            named = _named(client)
            if self._holder not in {None, named}:
                raise NotOperator("Another page operates this bench; watch, or take over first.")
            return self._sit(named)

    def take(self, client: str | None) -> bool:
        """Sit a client down whoever operated before."""
        with self._lock:
            return self._sit(_named(client))

    @contextmanager
    def watching(self, client: str | None) -> Iterator[None]:
        """Count an open stream of a client for as long as the block lasts."""
        if client is None:
            yield
            return
        with self._lock:
            self._streams[client] += 1
            self._hear(client)
        try:
            yield
        finally:
            with self._lock:
                self._streams[client] -= 1
                if not self._streams[client]:
                    del self._streams[client]
                self._hear(client)

    def leave_if_gone(self) -> bool:
        """Free the seat where its holder has been gone too long, and say whether that was so."""
        with self._lock:
            if self._holder is None or self._holder in self._streams:
                return False
            if self._clock() - self._heard_s < self._patience_s:
                return False
            self._holder = None
            return True

    def _sit(self, client: str) -> bool:
        changed = self._holder != client
        self._holder = client
        self._heard_s = self._clock()
        return changed

    def _hear(self, client: str) -> None:
        if client == self._holder:
            self._heard_s = self._clock()


def _named(client: str | None) -> str:
    if not client:
        raise NamelessClient(f"The request does not say who sends it; give a name of your own in {CLIENT_HEADER}.")
    return client
