"""Connections that keep others out: each must say what it wants in good time, and there is always room for one more."""

from asyncio import TimerHandle, Transport

from uvicorn.protocols.http.h11_impl import H11Protocol

LONGEST_HEAD_S = 10.0
"""How long the head of a request may take to arrive."""

MOST_WAITING = 100
"""Connections of which no whole request is at hand. One more, and the one that has waited longest is closed."""


class PatientProtocol(H11Protocol):
    """One connection. It is said nowhere else that a peer was closed for dawdling: it knows."""

    _head_due: TimerHandle | None = None
    waits_since_s = 0.0
    """When it last began to wait for a request, by its loop's clock."""

    def connection_made(self, transport: Transport) -> None:  # type: ignore[override]
        """Make room for it, and expect a request."""
        super().connection_made(transport)
        self._expect_head()
        self._make_room()

    def connection_lost(self, exc: Exception | None) -> None:
        """Expect nothing more."""
        self._head_came()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Take what came, and see whether it is a whole head by now."""
        before = self.cycle
        super().data_received(data)
        if self.cycle is not before:
            self._head_came()
        elif self._is_between_requests():
            self._expect_head()

    @property
    def is_waiting(self) -> bool:
        """Whether no whole request is at hand."""
        return self._is_between_requests() or bool(self.cycle.more_body)

    def _is_between_requests(self) -> bool:
        return self.cycle is None or bool(self.cycle.response_complete)

    def _expect_head(self) -> None:
        if self._head_due is None:
            self.waits_since_s = self.loop.time()
            self._head_due = self.loop.call_later(LONGEST_HEAD_S, self.transport.abort)

    def _head_came(self) -> None:
        if self._head_due is not None:
            self._head_due.cancel()
            self._head_due = None

    def _make_room(self) -> None:
        ours = (each for each in self.connections if isinstance(each, PatientProtocol))
        waiting = [each for each in ours if each.is_waiting]
        if len(waiting) > MOST_WAITING:
            min(waiting, key=lambda each: each.waits_since_s).transport.abort()
