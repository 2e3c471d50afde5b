"""One instrument's link: opens by asking who is there, and opens again with growing pauses."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

from drivers.errors import (
    DriverError,
    GarbledReplyError,
    InstrumentChangedError,
    NotConnectedError,
    ReplyTimeoutError,
    TransportError,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from drivers.transport import Transport

_FIRST_PAUSE_S = 0.2
_LONGEST_PAUSE_S = 5.0
_OPEN_TIMEOUT_S = 2.0
_FEWEST_FIELDS = 2


@dataclass(frozen=True, slots=True)
class Identity:
    """What an instrument says it is, IEEE 488.2 section 10.14: four fields and a comma between each."""

    maker: str
    model: str
    serial: str = ""
    firmware: str = ""

    def __str__(self) -> str:
        return ", ".join(field for field in (self.maker, self.model, self.serial, self.firmware) if field)


def parse_identity(reply: str) -> Identity | None:
    """Read the reply of *IDN?. None where it is something else, such as a late number."""
    fields = [field.strip() for field in reply.split(",", 3)]
    if len(fields) < _FEWEST_FIELDS or not fields[0] or not fields[1]:
        return None
    return Identity(*fields)


class Link:
    """Keeps one transport open. Not safe for two threads at once: `drivers.instrument` holds the lock."""

    def __init__(self, transport: Transport, *, timeout_s: float, clock: Callable[[], float] = time.monotonic) -> None:
        self._transport = transport
        self._timeout_s = timeout_s
        self._clock = clock
        self._pause_s = 0.0
        self._not_before = clock()
        self.identity: Identity | None = None

    @property
    def address(self) -> str:
        """The address of the transport."""
        return self._transport.address

    @property
    def retry_s(self) -> float:
        """How long the next attempt to open is still held back."""
        return max(0.0, self._not_before - self._clock())

    def is_ready(self) -> bool:
        """Whether the next message can go out as things stand."""
        return self._transport.is_ready()

    def open(self) -> Identity:
        """Connect and ask who is there. A connection by itself proves nothing: some instruments serve one at a time.

        Raises:
            BadAddressError: The address can never be opened.
            NotConnectedError: Nobody answers, or the last attempt failed a moment ago.
            InstrumentChangedError: Another instrument than before answers.
        """
        if self.retry_s > 0:
            raise NotConnectedError(self.address, "the last attempt failed a moment ago", self.retry_s)
        try:
            identity = self._greet()
        except BaseException as error:
            self.give_up(hold_back=isinstance(error, DriverError))
            raise
        self._pause_s = 0.0
        self.identity = identity
        return identity

    def _greet(self) -> Identity:
        self._transport.open(min(self._timeout_s, _OPEN_TIMEOUT_S))
        try:
            reply = self._transport.exchange("*IDN?", self._timeout_s)
        except ReplyTimeoutError as error:
            reason = "it takes the connection but does not answer *IDN?; another program may be using it"
            raise NotConnectedError(self.address, reason) from error
        identity = parse_identity(reply)
        if identity is None:
            raise GarbledReplyError(self.address, "*IDN?", reply, "not the name of an instrument")
        if self.identity not in (None, identity):
            raise InstrumentChangedError(self.address, f"it was {self.identity} and is now {identity}")
        return identity

    def give_up(self, *, hold_back: bool) -> None:
        """Drop the link; with `hold_back` let the next attempt wait, longer after each failure."""
        self._transport.close()
        if hold_back:
            self._pause_s = min(max(2 * self._pause_s, _FIRST_PAUSE_S), _LONGEST_PAUSE_S)
            self._not_before = self._clock() + self._pause_s

    def end_pause(self) -> None:
        """Let the next attempt to open come at once, where safety cannot wait."""
        self._pause_s = 0.0
        self._not_before = self._clock()

    def send(self, message: str) -> None:
        """Send a message without a reply."""
        self._transport.send(message, self._timeout_s)

    def exchange(self, message: str, timeout_s: float) -> str:
        """Send a message and give its reply."""
        return self._transport.exchange(message, timeout_s)

    def shout(self, message: str) -> bool:
        """Send once over a link of its own to whoever listens, without asking back. Tell whether it went out."""
        try:
            self._transport.open(_OPEN_TIMEOUT_S)
            self._transport.send(message, self._timeout_s)
        except TransportError:
            return False
        finally:
            self._transport.close()
        return True
