"""One instrument in conversation: every setting waited for and checked, every silence explained.

Thread-safe: one lock for each instrument, held from the question to the last of its answers.
"""

from __future__ import annotations

import threading
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

from drivers import scpi
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
from drivers.link import Identity, Link

if TYPE_CHECKING:
    from collections.abc import Callable

    from drivers.scpi import ErrorEntry
    from drivers.transport import Transport

DEFAULT_TIMEOUT_S = 2.0
# A queue holds a few dozen at most; an instrument that goes on for ever is told apart from one that has much to say.
MOST_ERRORS = 32
_ASK_ERROR = ":SYST:ERR?"
_ASK_DONE = "*OPC?"
_PROBE = f"*CLS;{_ASK_DONE};{_ASK_ERROR}"

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Manners:
    """What the instrument can do in conversation, found out once. `clean_reply` is its answer to a good setting."""

    compound: bool
    reports_done: bool
    clean_reply: str | None = None


class Instrument:
    """What every role needs. Open it, talk, close it; a lost link opens again by itself with the next message."""

    def __init__(
        self,
        transport: Transport,
        *,
        timeout_s: float = DEFAULT_TIMEOUT_S,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._link = Link(transport, timeout_s=timeout_s, clock=clock)
        self._timeout_s = timeout_s
        self._lock = threading.RLock()
        self._manners: Manners | None = None
        self._is_reopening = False
        self._restore: Callable[[], None] | None = None
        self._last_error: str | None = None

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
    def timeout_s(self) -> float:
        """The deadline of an exchange that does not ask for its own."""
        return self._timeout_s

    def open(self) -> None:
        """Connect, identify, find out the manners and empty the error queue of what others left there."""
        with self._lock:
            self._link.open()
            try:
                self._manners = self._learn_manners()
            except BaseException:
                self._link.give_up(hold_back=False)
                raise

    def when_reopened(self, restore: Callable[[], None]) -> None:
        """Say what to do after the link had to be opened anew: the instrument may have been switched off and on."""
        self._restore = restore

    def close(self) -> None:
        """Drop the link. Never raises."""
        with self._lock:
            self._link.give_up(hold_back=False)

    def command(self, message: str) -> None:
        """Send a setting, wait until it is done, and check the error queue: one round trip where manners allow.

        Raises:
            InstrumentError: The instrument refused it.
            TransportError, ReplyError: The link or the reply failed.
        """
        self._guard(lambda: self._command(message), message)

    def query_number(self, message: str, *, timeout_s: float | None = None) -> float:
        """Ask for one number.

        Raises:
            OverloadError, NotANumberError: The reply is a mark.
            GarbledReplyError: The reply is not a number.
        """
        limit_s = self._timeout_s if timeout_s is None else timeout_s
        return self._guard(lambda: self._number(message, self._link.exchange(message, limit_s)), message)

    def query_boolean(self, message: str) -> bool:
        """Ask for an on or off."""
        return self._guard(
            lambda: self._parse(message, self._link.exchange(message, self._timeout_s), scpi.parse_boolean), message
        )

    def query_numbers(self, *messages: str) -> tuple[float, ...]:
        """Ask for several numbers, in one round trip where manners allow."""
        return self._guard(lambda: self._numbers(messages), ";".join(messages))

    def shout(self, message: str) -> bool:
        """Send by a link of its own without waiting for anything: the last means to switch something off."""
        with self._lock:
            return self._link.shout(message)

    # Opening

    def _learn_manners(self) -> Manners:
        """Try settle and check in one message; an instrument that takes only one command a line is asked singly."""
        try:
            reply = self._link.exchange(_PROBE, self._timeout_s)
            done, entry = scpi.split_reply(reply)
            if done == "1":
                compound = Manners(True, True, reply)
                if scpi.parse_error_entry(entry).code == scpi.NO_ERROR:
                    return compound
        except (ReplyTimeoutError, LinkLostError, ReplyError, ValueError):
            pass
        # An answer to the probe may still be on its way.
        self._link.open()
        return Manners(compound=False, reports_done=self._reports_done())

    def _reports_done(self) -> bool:
        self._link.send("*CLS")
        try:
            done = self._link.exchange(_ASK_DONE, self._timeout_s) == "1"
        except (ReplyTimeoutError, LinkLostError, ReplyError):
            self._link.open()
            done = False
        self._drain()
        return done

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

    def _command(self, message: str) -> None:
        manners = self._manners or Manners(compound=False, reports_done=False)
        if manners.compound:
            reply = self._link.exchange(f"{message};{_ASK_DONE};{_ASK_ERROR}", self._timeout_s)
            if reply != manners.clean_reply:
                self._judge(message, reply)
            return
        self._link.send(message)
        if manners.reports_done and (done := self._link.exchange(_ASK_DONE, self._timeout_s)) != "1":
            raise GarbledReplyError(self.address, _ASK_DONE, done, "not 1")
        if entries := self._drain():
            raise InstrumentError(self.address, message, entries)

    def _judge(self, message: str, reply: str) -> None:
        """Read the whole answer to a setting: `1` when it is done, and one line of the error queue."""
        *done, line = self._parse(message, reply, scpi.split_reply)
        entry = self._parse(message, line, scpi.parse_error_entry)
        if entry.code != scpi.NO_ERROR:
            raise InstrumentError(self.address, message, (entry, *self._drain()))
        if done != ["1"]:
            raise GarbledReplyError(self.address, message, reply, "it does not say that the setting is done")

    def _drain(self) -> tuple[ErrorEntry, ...]:
        """Empty the error queue, oldest first, and give up after `MOST_ERRORS` lines."""
        entries: list[ErrorEntry] = []
        while len(entries) < MOST_ERRORS:
            line = self._link.exchange(_ASK_ERROR, self._timeout_s)
            entry = self._parse(_ASK_ERROR, line, scpi.parse_error_entry)
            if entry.code == scpi.NO_ERROR:
                break
            entries.append(entry)
        return tuple(entries)

    def _numbers(self, messages: tuple[str, ...]) -> tuple[float, ...]:
        if self._manners is not None and self._manners.compound:
            message = ";".join(messages)
            reply = self._link.exchange(message, self._timeout_s)
            replies = self._parse(message, reply, scpi.split_reply)
            if len(replies) != len(messages):
                raise GarbledReplyError(self.address, message, reply, f"not {len(messages)} values")
        else:
            replies = tuple(self._link.exchange(message, self._timeout_s) for message in messages)
        return tuple(self._number(message, reply) for message, reply in zip(messages, replies, strict=True))

    def _number(self, message: str, reply: str) -> float:
        value = self._parse(message, reply, scpi.parse_number)
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
