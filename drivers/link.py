"""One instrument's link: opens by asking who is there, opens again with growing pauses, and pairs every answer.

After an answer that was not the one to its question the link is opened anew, emptied of whatever is on its way, and
trusted again only when the instrument has said its name with the number of that question.
"""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

from drivers.errors import (
    DriverError,
    GarbledReplyError,
    InstrumentChangedError,
    LinkLostError,
    NotConnectedError,
    ReplyError,
    ReplyTimeoutError,
    TransportError,
    UnpairedReplyError,
)
from drivers.identity import Identity, parse_identity
from drivers.pairing import ALL_BITS, TAG_QUESTION, Pairing, Tags, UnpairedError, answer, fits, question

if TYPE_CHECKING:
    from collections.abc import Callable

    from drivers.transport import Transport

_FIRST_PAUSE_S = 0.2
_LONGEST_PAUSE_S = 5.0
_OPEN_TIMEOUT_S = 2.0
_ATTEMPTS_TO_GREET = 3


class Link:
    """Keeps one transport open. Not safe for two threads at once: `drivers.instrument` holds the lock."""

    def __init__(
        self,
        transport: Transport,
        *,
        timeout_s: float,
        clock: Callable[[], float] = time.monotonic,
        unasked_name: Identity | None = None,
        only_ask: bool = False,
    ) -> None:
        """Begin closed.

        Args:
            transport: The way to the instrument.
            timeout_s: The deadline of an exchange that does not bring its own.
            clock: What the pauses between attempts are measured by.
            unasked_name: What to call an instrument that knows no *IDN?; it is then not asked.
            only_ask: Whether it must be asked for its name and nothing else done to it, once.
        """
        self._transport = transport
        self._unasked_name = unasked_name
        self._attempts = 1 if only_ask else _ATTEMPTS_TO_GREET
        self._timeout_s = timeout_s
        self._clock = clock
        self._pause_s = 0.0
        self._not_before = clock()
        self._tags = Tags()
        self._is_suspect = False
        self.lock: Callable[[Transport], None] | None = None
        self.pairing = Pairing.BY_SILENCE
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
        """Whether the next message can go out as things stand: the line is up, and nothing unasked waits on it."""
        return self._transport.is_ready()

    def pair_by(self, pairing: Pairing, bits: int = ALL_BITS) -> None:
        """Say how answers are proven from now on, and with which bits of the register."""
        self.pairing = pairing
        self._tags = Tags(bits)

    def open(self) -> Identity:
        """Connect and ask who is there. A connection by itself proves nothing: some instruments serve one at a time.

        Raises:
            BadAddressError: The address can never be opened.
            NotConnectedError: Nobody answers, or the last attempt failed a moment ago.
            InstrumentChangedError: Another instrument than before answers.
            ReplyError: What answers does not say its name.
        """
        if self.retry_s > 0:
            raise NotConnectedError(self.address, "the last attempt failed a moment ago", self.retry_s)
        try:
            identity = self._greet()
        except BaseException as error:
            self.give_up(hold_back=isinstance(error, DriverError))
            raise
        self._pause_s = 0.0
        self._is_suspect = False
        self.identity = identity
        return identity

    def _greet(self) -> Identity:
        """Ask for the name until it comes: what comes first may be the answer to a question of before."""
        self._connect()
        attempt = 1
        while True:
            try:
                return self._name()
            except (ReplyError, InstrumentChangedError) as error:
                is_proven = isinstance(error, InstrumentChangedError) and self.pairing is not Pairing.BY_SILENCE
                if is_proven or attempt == self._attempts:
                    raise
            attempt += 1
            self._is_suspect = True
            self._transport.close()
            self._connect()

    def _connect(self) -> None:
        self._transport.open(min(self._timeout_s, _OPEN_TIMEOUT_S))
        if self.lock is not None:
            self.lock(self._transport)
        if self._is_suspect:
            self._transport.clear()

    def _name(self) -> Identity:
        if self._unasked_name is not None:
            return self._unasked_name
        try:
            # The name ends a message (488.2 section 6.5.7.5), so its number stands before it only.
            reply = self.exchange("*IDN?", self._timeout_s, ends_itself=True)
        except ReplyTimeoutError as error:
            reason = "it takes the connection but does not answer *IDN?; another program may be using it"
            raise NotConnectedError(self.address, reason) from error
        except LinkLostError as error:  # what a gateway does whose instrument is off or taken
            reason = "it takes the connection and drops it before it says its name; another program may be using it"
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
        self._is_suspect = True
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

    def ask_plainly(self, message: str) -> str:
        """Send a message and give its reply unproven, while it is being found out how replies can be proven."""
        return self._transport.exchange(message, self._timeout_s)

    def exchange(
        self,
        message: str,
        timeout_s: float,
        *,
        ends_itself: bool = False,
        meanwhile: Callable[[], object] | None = None,
    ) -> str:
        """Send a message and give its reply.

        Args:
            message: One or several queries.
            timeout_s: The deadline for all of the reply.
            ends_itself: Whether the end of the reply shows that it is whole, as a quoted text's does.
            meanwhile: What to carry out between the message and its reply.

        Raises:
            UnpairedReplyError: The reply is not the one to this message.
        """
        if self.pairing is Pairing.BY_SILENCE:
            return self._transport.exchange(message, timeout_s, meanwhile)
        tag = self._tags.next()
        if self.pairing is Pairing.ON_LINES_OF_ITS_OWN:
            return self._exchange_between_lines(tag, message, timeout_s, meanwhile)
        whole = question(tag, message, ends_itself=ends_itself)
        reply = self._transport.exchange(whole, timeout_s, meanwhile)
        try:
            return answer(tag, reply, ends_itself=ends_itself)
        except UnpairedError as error:
            raise UnpairedReplyError(self.address, message, reply, str(error)) from error

    def _exchange_between_lines(
        self, tag: str, message: str, timeout_s: float, meanwhile: Callable[[], object] | None
    ) -> str:
        self._transport.send(f"*ESE {tag}", self._timeout_s)
        reply = self._transport.exchange(message, timeout_s, meanwhile)
        number = self._transport.exchange(TAG_QUESTION, self._timeout_s)
        if not fits(tag, number):
            raise UnpairedReplyError(self.address, message, reply, f"{number!r} came behind it")
        return reply

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
