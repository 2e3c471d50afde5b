"""A wire that knows the whole conversation beforehand: anything unsent, unexpected or unread fails the test."""

from __future__ import annotations

import os
import re
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING

from drivers.errors import GarbledReplyError, LinkLostError, NotConnectedError, ReplyTimeoutError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

# RFC 5737: an address for documentation, reached by nobody. Test runs beside this one have another: one program has an
# address at a time.
ADDRESS = f"TCPIP::192.0.2.7::{os.getpid()}::SOCKET"
IDENTITY = "Invented Works,Thing 1,0,1"
CLEAN = '1;0,"No error"'
NO_ERROR = '0,"No error"'


@dataclass(frozen=True)
class Opens:
    """The link is opened; `error` where that fails."""

    fails: str | None = None


@dataclass(frozen=True)
class Asks:
    """A message with its reply."""

    message: str
    reply: str


@dataclass(frozen=True)
class Sends:
    """A message that has no reply, and none is waited for."""

    message: str


@dataclass(frozen=True)
class Silent:
    """A message whose reply does not come in time."""

    message: str


@dataclass(frozen=True)
class HangsUp:
    """A message during which the instrument closes the link."""

    message: str


@dataclass(frozen=True)
class Noise:
    """A message answered by bytes that are no text."""

    message: str


@dataclass(frozen=True)
class Interrupted:
    """A message during which the person presses Ctrl-C."""

    message: str


@dataclass(frozen=True)
class GoesAway:
    """Between two messages the instrument closes the link."""


_TAG = re.compile(r"\*ESE (\d+);\*ESE\?;(.*?)(;\*ESE\?)?")
_PROBE = re.compile(r"\*CLS;\*ESE (255);\*ESE\?;(.*)")


Step = Opens | Asks | Sends | Silent | HangsUp | Noise | Interrupted | GoesAway


def sets(message: str, reply: str = CLEAN) -> Asks:
    """A setting as a well-mannered instrument is given it: one round trip for setting, settling and check."""
    return Asks(f"{message};*OPC?;:SYST:ERR?", reply)


def opening(identity: str = IDENTITY) -> tuple[Step, ...]:
    """How every well-mannered instrument is opened."""
    return (Opens(), Asks("*IDN?", identity), Asks("*CLS;*OPC?;:SYST:ERR?", CLEAN))


def reopening(identity: str = IDENTITY, *left: str) -> tuple[Step, ...]:
    """How a link is opened anew: who is there, and what is left in the error queue."""
    lines = (*left, NO_ERROR)
    return (Opens(), Asks("*IDN?", identity), *(Asks(":SYST:ERR?", line) for line in lines))


class ScriptedTransport:
    """Fits `drivers.transport.Transport`. Deadlines are noted, not waited for."""

    def __init__(self, steps: tuple[Step, ...]) -> None:
        self._steps = list(steps)
        self._open = False
        self._register = ""
        self.address = ADDRESS
        self.deadlines_s: list[float] = []

    def open(self, timeout_s: float) -> None:
        """Take the next step, which must be an opening."""
        assert timeout_s > 0
        step = self._next("to open the link")
        assert isinstance(step, Opens), f"opened the link where the script says {step}"
        if step.fails is not None:
            raise NotConnectedError(self.address, step.fails)
        self._open = True

    def close(self) -> None:
        """Closing is always allowed."""
        self._open = False

    def is_ready(self) -> bool:
        """False once the script says that the instrument went away."""
        if self._steps and isinstance(self._steps[0], GoesAway):
            self._steps.pop(0)
            self._open = False
        return self._open

    def end_messages_with(self, ending: str) -> None:
        """How messages end is the wire's business."""
        assert ending

    def lock(self, key: str, *, alone: bool) -> None:  # noqa: ARG002 - as the protocol has it
        """Always granted."""
        assert self._open, "locked a closed link"

    def unlock(self) -> None:
        """Nothing is ever locked."""

    def clear(self) -> None:
        """Clearing is always allowed: nothing is ever on its way here."""
        assert self._open, "cleared a closed link"

    def send(self, message: str, timeout_s: float) -> None:
        """Take the next step, which must be this message without a reply; the numbers that pair answers go by."""
        assert self._open, f"sent {message!r} over a closed link"
        assert timeout_s > 0
        if message.startswith("*ESE "):
            self._register = message.removeprefix("*ESE ")
            return
        step = self._next(repr(message))
        assert step == Sends(message), f"sent {message!r} where the script says {step}"

    def exchange(self, message: str, timeout_s: float, meanwhile: Callable[[], object] | None = None) -> str:
        """Take the next step, which must be this message, but for the numbers that pair it with its answer."""
        assert self._open, f"asked {message!r} over a closed link"
        if meanwhile is not None:
            meanwhile()
        if message == "*ESE?":
            return self._register
        if match := _PROBE.fullmatch(message):
            return f"{match[1]};{self._answer(f'*CLS;{match[2]}', timeout_s)}"
        if match := _TAG.fullmatch(message):
            reply = self._answer(match[2], timeout_s)
            return f"{match[1]};{reply}" + (f";{match[1]}" if match[3] else "")
        return self._answer(message, timeout_s)

    def _answer(self, message: str, timeout_s: float) -> str:
        self.deadlines_s.append(timeout_s)
        step = self._next(repr(message))
        if isinstance(step, (Opens, GoesAway, Sends)) or step.message != message:
            raise AssertionError(f"asked {message!r} where the script says {step}")
        if isinstance(step, Asks):
            return step.reply
        self._open = False
        raise self._failure(step, timeout_s)

    def _failure(self, step: Silent | HangsUp | Noise | Interrupted, timeout_s: float) -> BaseException:
        if isinstance(step, Silent):
            return ReplyTimeoutError(self.address, step.message, timeout_s)
        if isinstance(step, HangsUp):
            return LinkLostError(self.address, step.message, "the instrument hung up")
        if isinstance(step, Noise):
            return GarbledReplyError(self.address, step.message, "\\xff", "not readable text")
        return KeyboardInterrupt()

    def _next(self, what: str) -> Step:
        assert self._steps, f"came {what} after the end of the script"
        return self._steps.pop(0)

    def assert_finished(self) -> None:
        """Fail where the script goes on."""
        assert not self._steps, f"never came to {self._steps}"


@contextmanager
def expected_exchange(*steps: Step) -> Iterator[ScriptedTransport]:
    """Give a transport for exactly this conversation; fail at the end if part of it never came."""
    transport = ScriptedTransport(steps)
    yield transport
    transport.assert_finished()
