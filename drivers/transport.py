"""The wire. The only module that meets pyvisa, and the place where the traps of its pyvisa-py backend are closed.

One message out, one answer in, with one deadline for the whole. Whatever goes wrong, the link is dropped at once: a
late reply must never be waiting for the next question. Opening again is the business of `drivers.link`.
"""

from __future__ import annotations

import contextlib
import os
import select
import socket
import threading
import time
import warnings
from typing import TYPE_CHECKING, Any, Protocol

from drivers.errors import (
    BadAddressError,
    GarbledReplyError,
    LinkLostError,
    NotConnectedError,
    ReplyTimeoutError,
    ReplyTooLongError,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from pyvisa.resources import MessageBasedResource

LONGEST_REPLY_BYTES = 65_536
_CHUNK_BYTES = 4096
# An unacknowledged write (a peer that stopped reading, a pulled cable) ends after this long instead of never.
_UNREAD_LIMIT_MS = 3000
_KEEPALIVE = {"TCP_KEEPIDLE": 30, "TCP_KEEPINTVL": 10, "TCP_KEEPCNT": 3}


class Transport(Protocol):
    """One instrument's wire. After any exception of `exchange` or `send` the transport is closed."""

    @property
    def address(self) -> str:
        """The VISA address."""

    def open(self, timeout_s: float) -> None:
        """Drop the old link and connect. This proves nothing about the instrument: only an answer does."""

    def close(self) -> None:
        """Drop the link, whatever state it is in. Never raises."""

    def is_ready(self) -> bool:
        """Whether the link is up, the peer has not hung up, and nothing unread (a late reply) is waiting."""

    def send(self, message: str, timeout_s: float) -> None:
        """Send one message that has no reply."""

    def exchange(self, message: str, timeout_s: float) -> str:
        """Send one message and give its reply without the terminator.

        Raises:
            ReplyTimeoutError: No complete reply before the deadline.
            LinkLostError: The peer hung up or stopped reading.
            ReplyTooLongError: The reply would not end.
            GarbledReplyError: The reply is not text.
        """


class VisaTransport:
    """A link through pyvisa and its pyvisa-py backend: TCPIP SOCKET and INSTR (HiSLIP, VXI-11), ASRL, USB, GPIB."""

    def __init__(
        self,
        address: str,
        *,
        longest_reply_bytes: int = LONGEST_REPLY_BYTES,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._address = address
        self._longest_reply_bytes = longest_reply_bytes
        self._clock = clock
        # Kept for the life of this object: pyvisa has one manager for all, and closes every session when it goes.
        self._manager: Any = None
        self._resource: MessageBasedResource | None = None
        self._library: Any = None
        self._handle: Any = None
        self._watch: _PeerWatch = _PeerWatch()
        self._full_chunk: Any = None
        self._timeout_ms = 0.0

    @property
    def address(self) -> str:
        """The VISA address."""
        return self._address

    def open(self, timeout_s: float) -> None:
        """Drop the old link and connect.

        Raises:
            BadAddressError: Not VISA, or a kind of connection this computer has no software for.
            NotConnectedError: Refused or unreachable.
        """
        self.close()
        try:
            _check_address(self._address)
            self._open_resource(timeout_s)
        except Exception as error:
            # pyvisa-py raises VisaIOError, OSError, ValueError or a bare Exception, by kind of connection.
            self.close()
            raise _opening_error(self._address, error) from error

    def _open_resource(self, timeout_s: float) -> None:
        import pyvisa  # noqa: PLC0415 - 0.15 s that `--help` need not pay

        if self._manager is None:
            self._manager = pyvisa.ResourceManager("@py")
        self._full_chunk = pyvisa.constants.StatusCode.success_max_count_read
        # Always given: the backend's own defaults are 10 s for SOCKET and 0.1 s for VXI-11.
        resource = self._manager.open_resource(self._address, open_timeout=round(timeout_s * 1000))
        self._resource = resource
        self._handle = resource.session
        self._library = resource.visalib
        # Full chunks are looked at in `_read`; pyvisa would make a Python warning of each.
        self._library.issue_warning_on.discard(self._full_chunk)
        if not isinstance(resource, pyvisa.resources.MessageBasedResource):
            raise ValueError("this kind of connection carries no text")  # noqa: TRY004 - becomes BadAddressError
        _set_terminator(resource)
        self._set_timeout(timeout_s)
        self._watch = _watch_for(self._library.sessions.get(self._handle), self._clock)

    def close(self) -> None:
        """Drop the link, whatever state it is in. Never raises."""
        resource, self._resource = self._resource, None
        watch, self._watch = self._watch, _PeerWatch()
        if resource is None:
            return
        session = self._library.sessions.get(self._handle)
        with contextlib.suppress(OSError):
            watch.forsake()
        with contextlib.suppress(Exception):  # a dead link may fail to close in any way; it is given up all the same
            resource.close()
        with contextlib.suppress(Exception):  # closed above, unless that failed half-way
            session.interface.close()
        # The backend keeps each closed session for ever.
        self._library.sessions.pop(self._handle, None)

    def is_ready(self) -> bool:
        """Whether the link is up, the peer has not hung up, and nothing unread (a late reply) is waiting."""
        try:
            return self._resource is not None and self._watch.is_ready()
        except (OSError, ValueError):  # the peer reset the link, or its socket is closed already
            return False

    def send(self, message: str, timeout_s: float) -> None:
        """Send one message that has no reply."""
        self._attempt(message, timeout_s, expects_reply=False)

    def exchange(self, message: str, timeout_s: float) -> str:
        """Send one message and give its reply without the terminator."""
        return self._attempt(message, timeout_s, expects_reply=True)

    def _attempt(self, message: str, timeout_s: float, *, expects_reply: bool) -> str:
        if self._resource is None:
            raise LinkLostError(self._address, message, "it is not open")
        try:
            if timeout_s * 1000 != self._timeout_ms:
                self._set_timeout(timeout_s)
            deadline = self._clock() + timeout_s
            self._library.write(self._handle, message.encode("ascii") + b"\n")
            return self._read(message, timeout_s, deadline) if expects_reply else ""
        except _HungUpError as error:
            self.close()
            raise LinkLostError(self._address, message, "the instrument hung up") from error
        except Exception as error:
            # VisaIOError, OSError, RuntimeError or a bare Exception, by kind of connection.
            self.close()
            raise self._exchange_error(message, timeout_s, error) from error
        except BaseException:
            # Ctrl-C between question and answer: the answer must not wait for the next question.
            self.close()
            raise

    def _read(self, message: str, timeout_s: float, deadline: float) -> str:
        """Read to the terminator, asking VISA only for bytes that have come: its own wait spins on a dead peer."""
        received = bytearray()
        while True:
            ready = self._watch.wait_for_bytes(deadline)
            if ready == 0:
                raise ReplyTimeoutError(self._address, message, timeout_s)
            chunk, status = self._library.read(self._handle, ready)
            received.extend(chunk)
            if len(received) > self._longest_reply_bytes:
                start = received[:100].decode("latin-1")
                raise ReplyTooLongError(self._address, message, start, self._longest_reply_bytes)
            if status != self._full_chunk:
                break
        try:
            # Some instruments end their replies with CR LF whatever was agreed.
            return received.decode("ascii").strip()
        except UnicodeDecodeError as error:
            shown = received[:100].decode("latin-1")
            raise GarbledReplyError(self._address, message, shown, "not readable text") from error

    def _set_timeout(self, timeout_s: float) -> None:
        if self._resource is not None:
            self._timeout_ms = timeout_s * 1000
            self._resource.timeout = self._timeout_ms

    def _exchange_error(self, message: str, timeout_s: float, error: Exception) -> Exception:
        if isinstance(error, (ReplyTimeoutError, ReplyTooLongError, GarbledReplyError)):
            return error
        if getattr(error, "abbreviation", "") == "VI_ERROR_TMO":
            return ReplyTimeoutError(self._address, message, timeout_s)
        if isinstance(error, UnicodeEncodeError):
            return error
        return LinkLostError(self._address, message, _plain(error))


class _HungUpError(Exception):
    """The peer has closed its side."""


class _PeerWatch:
    """For connections whose bytes are not ours to look at: sees at most that the peer has gone."""

    def __init__(self, carrier: socket.socket | None = None) -> None:
        self._carrier = carrier

    def is_ready(self) -> bool:
        """Readable without anything to read is the peer's goodbye. Without a socket there is nothing to see."""
        if self._carrier is None or not select.select([self._carrier], (), (), 0)[0]:
            return True
        return bool(self._carrier.recv(1, socket.MSG_PEEK))

    def wait_for_bytes(self, deadline: float) -> int:  # noqa: ARG002 - VISA keeps the time
        """Leave the waiting to VISA."""
        return _CHUNK_BYTES

    def forsake(self) -> None:
        """Keep VXI-11 from asking a peer that has gone for leave to go: it would spin for five seconds."""
        if self._carrier is not None and not self.is_ready():
            self._carrier.shutdown(socket.SHUT_RDWR)


class _SocketWatch(_PeerWatch):
    """Looks at the bare socket of a SOCKET session: what pyvisa-py neither reports nor bounds."""

    def __init__(self, session: Any, clock: Callable[[], float]) -> None:  # noqa: ANN401 - pyvisa-py has no types
        super().__init__()
        self._session = session
        self._socket: socket.socket = session.interface
        self._reading = [self._socket]
        self._clock = clock

    def is_ready(self) -> bool:
        """One system call. Readable means a late reply or the peer's goodbye; not writable, a peer not reading."""
        readable, writable, _ = select.select(self._reading, self._reading, (), 0)
        return not readable and bool(writable) and not self._session._pending_buffer  # noqa: SLF001 - no other way

    def wait_for_bytes(self, deadline: float) -> int:
        """Wait for the next bytes and count them; 0 when the deadline passed."""
        remaining = max(0.0, deadline - self._clock())
        if not select.select(self._reading, (), (), remaining)[0]:
            return 0
        count = len(self._socket.recv(_CHUNK_BYTES, socket.MSG_PEEK))
        if count == 0:
            raise _HungUpError
        return count


def _watch_for(session: Any, clock: Callable[[], float]) -> _PeerWatch:  # noqa: ANN401 - untyped backend
    """Reach the session's socket and mend it; do nothing for another kind of connection, or another backend."""
    raw = getattr(session, "interface", None)
    if not isinstance(raw, socket.socket):
        # HiSLIP and VXI-11 keep theirs one level down.
        carriers = (getattr(raw, name, None) for name in ("_sync", "sock"))
        return _PeerWatch(next((carrier for carrier in carriers if isinstance(carrier, socket.socket)), None))
    refused = raw.getsockopt(socket.SOL_SOCKET, socket.SO_ERROR)
    if refused:  # pyvisa-py takes a refused connection for an open one
        raise OSError(refused, os.strerror(refused))
    # Without this the second of two writes in a row waits 40 ms for the peer's delayed acknowledgement.
    raw.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    raw.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
    for name, value in {**_KEEPALIVE, "TCP_USER_TIMEOUT": _UNREAD_LIMIT_MS}.items():
        if hasattr(socket, name):  # not on every system
            raw.setsockopt(socket.IPPROTO_TCP, getattr(socket, name), value)
    return _SocketWatch(session, clock)


def _set_terminator(resource: MessageBasedResource) -> None:
    """End replies at LF, not at a timeout. Adapters that do their own ending refuse the setting and need none."""
    with contextlib.suppress(Exception):
        resource.read_termination = "\n"


def _check_address(address: str) -> None:
    """Refuse what the backend would refuse in riddles, leaving a socket open behind it."""
    import pyvisa  # noqa: PLC0415 - see above

    parsed = pyvisa.rname.parse_resource_name(address)
    if parsed.resource_class == "SOCKET" and not str(getattr(parsed, "port", "0")).isdecimal():
        raise ValueError("the port must be a number")
    host = getattr(parsed, "host_address", None)
    if host is not None:
        socket.getaddrinfo(host.partition(",")[0], None, socket.AF_INET)


def _opening_error(address: str, error: Exception) -> BadAddressError | NotConnectedError:
    if type(error).__name__ == "InvalidResourceName":
        example = "TCPIP::192.168.1.20::5025::SOCKET"
        return BadAddressError(address, f"it is not a VISA address; a network instrument is written like {example}")
    if "filedescriptor out of range" in str(error):  # the backend waits by `select`, which knows only so many
        return NotConnectedError(address, "this program has too many files open")
    if isinstance(error, ValueError):
        unknown = "No class registered" in str(error)
        return BadAddressError(address, "this kind of connection is not supported" if unknown else _plain(error))
    return NotConnectedError(address, _plain(error))


def _plain(error: Exception) -> str:
    """Give what the system said, without numbers, codes and further lines."""
    if isinstance(error, OSError) and error.strerror:
        return error.strerror.lower()
    said = str(getattr(error, "description", error)).strip() or type(error).__name__
    return said.splitlines()[0].rstrip(". ")


def list_addresses(timeout_s: float) -> tuple[str, ...]:
    """Ask the networks and buses which instruments announce themselves. Takes 2 s or more; bounded by `timeout_s`.

    Instruments on a plain SOCKET do not announce themselves and are never found this way.
    """
    found: list[str] = []

    def look() -> None:
        import pyvisa  # noqa: PLC0415 - see above

        with contextlib.suppress(Exception), warnings.catch_warnings():
            # A missing bus is no news here, and a system's own name service may get in the way.
            warnings.simplefilter("ignore")
            found.extend(pyvisa.ResourceManager("@py").list_resources())

    # A thread, since nothing else bounds it; a daemon, so that one that hangs does not keep the program.
    search = threading.Thread(target=look, name="instrument search", daemon=True)
    search.start()
    search.join(timeout_s)
    return tuple(found)
