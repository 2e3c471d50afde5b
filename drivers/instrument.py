"""One instrument in conversation: every setting waited for and checked, every silence explained.

Thread-safe: one lock for each instrument, held from the question to the last of its answers.
"""

from __future__ import annotations

import os
import threading
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

from drivers import scpi
from drivers.conversation import Conversation
from drivers.errors import (
    DriverError,
    GarbledReplyError,
    InstrumentError,
    LinkLostError,
    NotANumberError,
    OverloadError,
    ReplyError,
    ReplyTimeoutError,
)
from drivers.link import Link
from drivers.ownership import Ownership, stands_in
from drivers.pairing import PROBE, TAG_QUESTION, Pairing, bits_kept

if TYPE_CHECKING:
    from collections.abc import Callable

    from drivers.identity import Identity
    from drivers.scpi import ErrorEntry
    from drivers.transport import Transport

DEFAULT_TIMEOUT_S = 2.0
# A queue holds a few dozen at most; an instrument that goes on for ever is told apart from one that has much to say.
MOST_ERRORS = 32
_ASK_DONE = "*OPC?"
_SET_ALL_BITS = PROBE.partition(";")[0]

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Manners:
    """What the instrument can do in conversation, found out once. `clean` is what its error queue says when empty."""

    compound: bool
    reports_done: bool
    clean: str = ""


@dataclass(frozen=True, slots=True)
class Answers:
    """What a setting's questions were answered with: those put before it, and those put after it was done."""

    before: tuple[str, ...] = ()
    after: tuple[str, ...] = ()


class Instrument:
    """What every role needs. Open it, talk, close it; a lost link opens again by itself with the next message."""

    def __init__(
        self,
        transport: Transport,
        *,
        timeout_s: float = DEFAULT_TIMEOUT_S,
        clock: Callable[[], float] = time.monotonic,
        conversation: Callable[[Identity], Conversation] | None = None,
        unasked_name: Identity | None = None,
    ) -> None:
        self._link = Link(transport, timeout_s=timeout_s, clock=clock, unasked_name=unasked_name)
        self._conversation_of = conversation
        self._conversation = Conversation()
        self._timeout_s = timeout_s
        self._lock = threading.RLock()
        self._manners: Manners | None = None
        self._is_reopening = False
        self._restore: Callable[[], None] | None = None
        self._last_error: str | None = None
        self._owner = Ownership(transport.address)
        # Whoever only asks who is there (drivers.discovery) must not lock anybody out.
        self._link.lock = self._have_to_ourselves
        self._owner.when_shared = self._share
        self._unlock = transport.unlock
        self._end_messages_with = transport.end_messages_with

    @property
    def address(self) -> str:
        """The VISA address."""
        return self._link.address

    @property
    def identity(self) -> Identity:
        """What the instrument says it is."""
        if self._link.identity is None:
            raise LinkLostError(self.address, "*IDN?", "it was never open")
        return self._link.identity

    @property
    def is_ready(self) -> bool:
        """Whether the link stands as far as can be told without a message. Never waits for a running exchange."""
        if not self._lock.acquire(blocking=False):
            return True
        try:
            return self._link.is_ready()
        finally:
            self._lock.release()

    @property
    def last_error(self) -> str | None:
        """The sentence of the latest error, or None."""
        return self._last_error

    @property
    def retry_s(self) -> float:
        """How long the next attempt to open is still held back after a failed one."""
        return self._link.retry_s

    def end_pause(self) -> None:
        """Let the next attempt to open come at once, where safety cannot wait."""
        with self._lock:
            self._link.end_pause()

    @property
    def is_paired(self) -> bool:
        """Whether each answer is proven to belong to its question."""
        return self._link.pairing is not Pairing.BY_SILENCE

    @property
    def acknowledges(self) -> bool:
        """Whether a setting that was sent is known to be done, or at least not refused."""
        return self._manners is not None and (self._manners.reports_done or bool(self._conversation.errors))

    @property
    def timeout_s(self) -> float:
        """The deadline of an exchange that does not ask for its own."""
        return self._timeout_s

    def open(self) -> None:
        """Connect, identify, find out the manners and empty the error queue of what others left there."""
        with self._lock:
            self._owner.claim()
            try:
                self._open()
            except BaseException:
                self._owner.release()
                raise

    def _have_to_ourselves(self, transport: Transport) -> None:
        if not stands_in():
            transport.lock(f"peakwright-{os.getpid()}", alone=not self._owner.is_shared)

    def _share(self) -> None:
        with self._lock:
            self._unlock()

    def _open(self) -> None:
        identity = self._link.open()
        if self._conversation_of is not None:
            self._conversation = self._conversation_of(identity)
            self._end_messages_with(self._conversation.ending)
        try:
            self._manners = self._learn_manners()
        except BaseException:
            self._link.give_up(hold_back=False)
            raise

    def when_reopened(self, restore: Callable[[], None]) -> None:
        """Say what to do after the link had to be opened anew: the instrument may have been switched off and on."""
        self._restore = restore

    def close(self) -> None:
        """Drop the link, and let other programs have the instrument. Never raises."""
        with self._lock:
            self._link.give_up(hold_back=False)
            self._owner.release()

    def command(self, message: str) -> None:
        """Send a setting, wait until it is done, and check the error queue: one round trip where manners allow.

        Raises:
            InstrumentError: The instrument refused it.
            TransportError, ReplyError: The link or the reply failed.
        """
        self.set_and_ask(message)

    def set_and_ask(self, message: str, *, before: tuple[str, ...] = (), after: tuple[str, ...] = ()) -> Answers:
        """Send a setting as `command` does, and ask how things stand before and after it, in the same round trip.

        Raises:
            DriverError: As for `command`.
        """
        return self._guard(lambda: self._set(message, before, after), message)

    def query_number(
        self, message: str, *, timeout_s: float | None = None, meanwhile: Callable[[], object] | None = None
    ) -> float:
        """Ask for one number, and carry something out `meanwhile`, before the answer is looked for.

        Raises:
            OverloadError, NotANumberError: The reply is a mark.
            GarbledReplyError: The reply is not a number.
        """
        limit_s = self._timeout_s if timeout_s is None else timeout_s
        return self._guard(
            lambda: self._number(message, self._link.exchange(message, limit_s, meanwhile=meanwhile)), message
        )

    def query(self, message: str) -> str:
        """Ask for whatever it is, as it is spelled."""
        return self._guard(lambda: self._link.exchange(message, self._timeout_s), message)

    def query_boolean(self, message: str) -> bool:
        """Ask for an on or off."""
        return self._guard(lambda: self.boolean(self._link.exchange(message, self._timeout_s), message), message)

    def boolean(self, reply: str, message: str = "") -> bool:
        """Read an on or off out of an answer.

        Raises:
            GarbledReplyError: It is neither.
        """
        return self._parse(message, reply, scpi.parse_boolean)

    def number(self, reply: str, message: str = "") -> float:
        """Read a number out of an answer.

        Raises:
            OverloadError, NotANumberError: It is a mark.
            GarbledReplyError: It is not a number.
        """
        return self._number(message, reply)

    def query_numbers(self, *messages: str) -> tuple[float, ...]:
        """Ask for several numbers, in one round trip where manners allow."""
        return tuple(
            self.number(reply, message) for message, reply in zip(messages, self.queries(*messages), strict=True)
        )

    def queries(self, *messages: str) -> tuple[str, ...]:
        """Ask several things, in one round trip where manners allow, and give the answers as they are spelled."""
        return self._guard(lambda: self._each(messages), ";".join(messages))

    def shout(self, message: str) -> bool:
        """Send by a link of its own without waiting for anything: the last means to switch something off."""
        with self._lock:
            return self._link.shout(message)

    # Opening

    def _learn_manners(self) -> Manners:
        """Try settle and check in one message; an instrument that takes only one command a line is asked singly."""
        told = self._conversation
        if told.compound and told.done and told.errors:
            if told.echo and (manners := self._try_compound(f"*CLS;{PROBE};{_ASK_DONE};{told.errors}", echoes=True)):
                return manners
            # An answer to the probe may still be on its way.
            self._link.open()
        reports_done = self._reports_done()
        if self._is_paired_by_lines() or not (told.compound and told.done and told.errors):
            self._drain()
            return Manners(compound=False, reports_done=reports_done)
        self._drain()
        manners = self._try_compound(f"*CLS;{_ASK_DONE};{told.errors}", echoes=False) if reports_done else None
        if manners is None and reports_done:
            self._link.open()
            self._drain()
        return manners or Manners(compound=False, reports_done=reports_done)

    def _try_compound(self, probe: str, *, echoes: bool) -> Manners | None:
        try:
            *kept, done, entry = scpi.split_reply(self._link.ask_plainly(probe))
            clean = scpi.parse_error_entry(entry).code == scpi.NO_ERROR
        except (ReplyTimeoutError, LinkLostError, ReplyError, ValueError):
            return None
        if done != "1" or not clean or len(kept) != int(echoes):
            return None
        if kept:
            bits = bits_kept(kept[0])
            if bits is None:
                return None
            self._link.pair_by(Pairing.IN_THE_MESSAGE, bits)
        return Manners(compound=True, reports_done=True, clean=entry)

    def _reports_done(self) -> bool:
        self._link.send("*CLS")
        return self._conversation.done and self._ask_or_reopen(_ASK_DONE) == "1"

    def _is_paired_by_lines(self) -> bool:
        """Find out whether a number can be written and read back, one command a line."""
        if not self._conversation.echo:
            return False
        self._link.send(_SET_ALL_BITS)
        bits = bits_kept(self._ask_or_reopen(TAG_QUESTION))
        if bits is not None:
            self._link.pair_by(Pairing.ON_LINES_OF_ITS_OWN, bits)
        return bits is not None

    def _ask_or_reopen(self, message: str) -> str:
        """Ask something that it need not know: silence or noise is an answer too."""
        try:
            return self._link.ask_plainly(message)
        except (ReplyTimeoutError, LinkLostError, ReplyError):
            self._link.open()
            return ""

    def _reopen(self) -> tuple[ErrorEntry, ...]:
        """Open anew, take what the error queue held from before, and let the role put its settings right."""
        self._is_reopening = True
        try:
            self._link.open()
            return self._put_right()
        finally:
            self._is_reopening = False

    def _put_right(self) -> tuple[ErrorEntry, ...]:
        try:
            left = self._drain()
            if self._restore is not None:
                self._restore()
        except BaseException:
            self._link.give_up(hold_back=True)
            raise
        return left

    # Talking

    def _guard(self, action: Callable[[], T], message: str) -> T:
        """Do one thing under the lock, on a link that is ready, and keep the sentence of what goes wrong."""
        with self._lock:
            try:
                if not self._link.is_ready():
                    self._make_ready(message)
                return action()
            except ReplyTimeoutError as error:
                self._last_error = str(error)
                self._explain_silence(message, error)
                raise
            except ReplyError as error:
                # Whatever still comes belongs to this question, not to the next.
                self._last_error = str(error)
                self._link.give_up(hold_back=False)
                raise
            except DriverError as error:
                self._last_error = str(error)
                raise

    def _make_ready(self, message: str) -> None:
        if self._is_reopening or self._manners is None:
            raise LinkLostError(self.address, message, "it is not open")
        self._reopen()

    def _explain_silence(self, message: str, silence: ReplyTimeoutError) -> None:
        """Ask why there was no reply: a refused query answers nothing, and only the error queue knows why."""
        if self._is_reopening or self._manners is None:
            return
        try:
            left = self._reopen()
        except DriverError:
            return  # the silence itself is what happened; the next message will say what is wrong with the link
        # Hanging up on a slow instrument makes a query error of its own.
        refusals = tuple(entry for entry in left if not entry.is_query_error)
        if refusals:
            refusal = InstrumentError(self.address, message, refusals)
            self._last_error = str(refusal)
            raise refusal from silence

    def _set(self, message: str, before: tuple[str, ...], after: tuple[str, ...]) -> Answers:
        manners = self._manners or Manners(compound=False, reports_done=False)
        if not manners.compound:
            return self._set_singly(message, before, after, reports_done=manners.reports_done)
        units = (*before, message, _ASK_DONE, *after, self._conversation.errors)
        reply = self._link.exchange(";".join(units), self._timeout_s, ends_itself=True)
        # Everything but the last part is a number: the usual answer needs no reading of quotes.
        if reply.endswith(manners.clean):
            parts = reply[: -len(manners.clean)].split(";")[:-1]
        else:
            parts = self._refused_parts(message, reply)
        if len(parts) != len(before) + 1 + len(after) or parts[len(before)] != "1":
            raise GarbledReplyError(self.address, message, reply, "it does not say that the setting is done")
        return Answers(tuple(parts[: len(before)]), tuple(parts[len(before) + 1 :]))

    def _refused_parts(self, message: str, reply: str) -> list[str]:
        """Read the whole answer to a setting whose end is not the usual one.

        Raises:
            InstrumentError: It is an error.
        """
        *parts, line = self._parse(message, reply, scpi.split_reply)
        entry = self._parse(message, line, scpi.parse_error_entry)
        if entry.code != scpi.NO_ERROR:
            raise InstrumentError(self.address, message, (entry, *self._drain()))
        return parts

    def _set_singly(
        self, message: str, before: tuple[str, ...], after: tuple[str, ...], *, reports_done: bool
    ) -> Answers:
        stood = tuple(self._link.exchange(one, self._timeout_s) for one in before)
        self._link.send(message)
        if reports_done and (done := self._link.exchange(_ASK_DONE, self._timeout_s)) != "1":
            raise GarbledReplyError(self.address, _ASK_DONE, done, "not 1")
        if entries := self._drain():
            raise InstrumentError(self.address, message, entries)
        return Answers(stood, tuple(self._link.exchange(one, self._timeout_s) for one in after))

    def _drain(self) -> tuple[ErrorEntry, ...]:
        """Empty the error queue, oldest first, and give up after `MOST_ERRORS` lines."""
        entries: list[ErrorEntry] = []
        ask = self._conversation.errors
        while ask and len(entries) < MOST_ERRORS:
            line = self._link.exchange(ask, self._timeout_s, ends_itself=True)
            entry = self._parse(ask, line, scpi.parse_error_entry)
            if entry.code == scpi.NO_ERROR:
                break
            entries.append(entry)
        return tuple(entries)

    def _each(self, messages: tuple[str, ...]) -> tuple[str, ...]:
        if self._manners is None or not self._manners.compound:
            return tuple(self._link.exchange(message, self._timeout_s) for message in messages)
        message = ";".join(messages)
        reply = self._link.exchange(message, self._timeout_s)
        replies = self._parse(message, reply, scpi.split_reply)
        if len(replies) != len(messages):
            raise GarbledReplyError(self.address, message, reply, f"not {len(messages)} values")
        return replies

    def _number(self, message: str, reply: str) -> float:
        value = self._parse(message, self._conversation.plain_number(reply), scpi.parse_number)
        mark = scpi.mark_of(value)
        if mark is scpi.NumberMark.OVERLOAD:
            raise OverloadError(self.address, value)
        if mark is scpi.NumberMark.NOT_A_NUMBER:
            raise NotANumberError(self.address, value)
        return value

    def _parse(self, message: str, reply: str, parser: Callable[[str], T]) -> T:
        try:
            return parser(reply)
        except scpi.ScpiFormatError as error:
            raise GarbledReplyError(self.address, message, reply, str(error)) from error
