"""What lies under a VISA session, by kind of connection: looked at, mended, and spoken over directly where it can be.

A SOCKET and a serial port are plain streams of bytes: lines are written and read on them here, in one system call each
way, with one deadline for the whole. Everything else is left to VISA, and its socket at most looked at.
"""

from __future__ import annotations

import contextlib
import os
import select
import socket
import time
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable

# An unacknowledged write (a peer that stopped reading, a pulled cable) ends after this long instead of never.
_UNREAD_LIMIT_MS = 3000
_KEEPALIVE = {"TCP_KEEPIDLE": 30, "TCP_KEEPINTVL": 10, "TCP_KEEPCNT": 3}
_CHUNK_BYTES = 65_536
# A stream is taken for silent after this long without a byte, and given up as a babbler after so much in all.
QUIET_S = 0.05
_LONGEST_DRAIN_S = 1.0
_MOST_LEFT_BEHIND = 16
# VXI-11 table B.2: device locked by another link. HiSLIP (IVI-6.1 table 18): the lock was not granted in time.
_VXI11_LOCKED = 11
_HISLIP_LOCKED = "failure"
_LOCK_ANSWER_S = 1.0


class HungUpError(Exception):
    """The peer has closed its side."""


class TooLongError(Exception):
    """A reply passed its limit without an end. `start` holds its first bytes."""

    def __init__(self, start: bytes) -> None:
        super().__init__("too long")
        self.start = start


class Carrier:
    """For connections whose bytes are not ours to look at: sees at most that the peer has gone."""

    speaks_lines = False

    def __init__(self, session: Any = None, carrier: socket.socket | None = None) -> None:  # noqa: ANN401 - untyped
        self._session = session
        self._carrier = carrier

    def is_ready(self) -> bool:
        """Readable without anything to read is the peer's goodbye. Without a socket there is nothing to see."""
        if self._carrier is None or not select.select([self._carrier], (), (), 0)[0]:
            return True
        return bool(self._carrier.recv(1, socket.MSG_PEEK))

    def write(self, data: bytes, timeout_s: float) -> None:
        """Write a line. Only where `speaks_lines`."""
        raise NotImplementedError

    def read_line(self, timeout_s: float, limit_bytes: int) -> bytes | None:
        """Read to the first LF; None where it did not come in time. Only where `speaks_lines`."""
        raise NotImplementedError

    def forsake(self) -> None:
        """Keep VXI-11 from asking a peer that has gone for leave to go: it would spin for five seconds."""
        if self._carrier is not None and not self.is_ready():
            self._carrier.shutdown(socket.SHUT_RDWR)

    def clear(self) -> None:
        """Empty what is on its way by device clear: it touches the conversation, not the settings (488.1, DCL)."""
        if self._session is not None:
            self._session.clear()


class Vxi11Carrier(Carrier):
    """Device clear, then whatever a lax output queue still gives."""

    def clear(self) -> None:
        """Clear, and read until nothing comes."""
        super().clear()
        session = self._session
        quiet_ms = round(QUIET_S * 1000)
        for _ in range(_MOST_LEFT_BEHIND):
            error, _, data = session.interface.device_read(session.link, _CHUNK_BYTES, quiet_ms, 0, 0, 0)
            if error or not data:
                return


class StreamCarrier(Carrier):
    """A plain stream of bytes: lines in, lines out."""

    speaks_lines = True

    def __init__(self, session: Any, clock: Callable[[], float]) -> None:  # noqa: ANN401 - pyvisa-py has no types
        super().__init__()
        self._session = session
        self._clock = clock
        self._unasked = False

    def clear(self) -> None:
        """Throw away what comes until the line is silent."""
        self._unasked = False
        until_s = time.monotonic() + _LONGEST_DRAIN_S
        while time.monotonic() < until_s and self._receive(QUIET_S):
            pass

    def read_line(self, timeout_s: float, limit_bytes: int) -> bytes | None:
        """Read to the first LF. What comes behind it was not asked for, and makes the link unready."""
        data = self._receive(timeout_s)
        if data.endswith(b"\n") and data.find(b"\n") == len(data) - 1:
            return data if len(data) <= limit_bytes else self._refuse(data)
        deadline = self._clock() + timeout_s
        received = bytearray(data)
        while data and b"\n" not in data:
            if len(received) > limit_bytes:
                self._refuse(received)
            data = self._receive(max(0.0, deadline - self._clock()))
            received.extend(data)
        line, end, rest = received.partition(b"\n")
        self._unasked = bool(rest.strip())
        if len(line) > limit_bytes:
            self._refuse(line)
        return bytes(line) if end else None

    @staticmethod
    def _refuse(data: bytes | bytearray) -> bytes:
        raise TooLongError(bytes(data[:100]))

    def _receive(self, timeout_s: float) -> bytes:
        """Give the next bytes; none where none came in time."""
        raise NotImplementedError


class SocketCarrier(StreamCarrier):
    """The bare socket of a SOCKET session: what pyvisa-py neither reports nor bounds."""

    def __init__(self, session: Any, clock: Callable[[], float]) -> None:  # noqa: ANN401 - pyvisa-py has no types
        super().__init__(session, clock)
        self._socket: socket.socket = session.interface
        self._watched = [self._socket]
        self._timeout_s: float | None = None

    def is_ready(self) -> bool:
        """One system call. Readable means a late reply or the peer's goodbye; not writable, a peer not reading."""
        if self._unasked:
            return False
        readable, writable, _ = select.select(self._watched, self._watched, (), 0)
        return not readable and bool(writable)

    def write(self, data: bytes, timeout_s: float) -> None:
        """Write a line.

        Raises:
            OSError: The peer hung up, reset the link or stopped reading.
        """
        self._wait_at_most(timeout_s)
        self._socket.sendall(data)

    def _receive(self, timeout_s: float) -> bytes:
        self._wait_at_most(timeout_s)
        try:
            data = self._socket.recv(_CHUNK_BYTES)
        except (TimeoutError, BlockingIOError):  # the second where there was no time to wait at all
            return b""
        if not data:
            raise HungUpError
        return data

    def _wait_at_most(self, timeout_s: float) -> None:
        if timeout_s != self._timeout_s:
            self._socket.settimeout(timeout_s)
            self._timeout_s = timeout_s


class SerialCarrier(StreamCarrier):
    """The port of a serial session."""

    def __init__(self, session: Any, clock: Callable[[], float]) -> None:  # noqa: ANN401 - pyvisa-py has no types
        super().__init__(session, clock)
        self._port: Any = session.interface

    def is_ready(self) -> bool:
        """Whether the port is there and silent."""
        return not self._unasked and not self._port.in_waiting

    def write(self, data: bytes, timeout_s: float) -> None:
        """Write a line."""
        if self._port.write_timeout != timeout_s:
            self._port.write_timeout = timeout_s
        self._port.write(data)

    def _receive(self, timeout_s: float) -> bytes:
        if self._port.timeout != timeout_s:
            self._port.timeout = timeout_s
        data: bytes = self._port.read(1)
        return data + self._port.read(self._port.in_waiting) if data else b""


def carrier_of(session: Any, clock: Callable[[], float]) -> Carrier:  # noqa: ANN401 - untyped backend
    """Reach what lies under a session and mend it; only its device clear where that cannot be reached.

    Raises:
        OSError: The connection was refused; pyvisa-py takes it for an open one.
    """
    raw = getattr(session, "interface", None)
    if isinstance(raw, socket.socket) and hasattr(session, "max_recv_size"):
        mend_socket(raw)
        return SocketCarrier(session, clock)
    if hasattr(raw, "in_waiting") and hasattr(raw, "write_timeout"):
        return SerialCarrier(session, clock)
    # HiSLIP and VXI-11 keep theirs one level down.
    carriers = (getattr(raw, name, None) for name in ("_sync", "sock"))
    carrier = next((carrier for carrier in carriers if isinstance(carrier, socket.socket)), None)
    is_vxi11 = hasattr(raw, "device_read") and hasattr(session, "link")
    return (Vxi11Carrier if is_vxi11 else Carrier)(session, carrier)


def mend_socket(raw: socket.socket) -> None:
    """Set what pyvisa-py leaves unset on its sockets.

    Raises:
        OSError: The connection was refused.
    """
    refused = raw.getsockopt(socket.SOL_SOCKET, socket.SO_ERROR)
    if refused:
        raise OSError(refused, os.strerror(refused))
    # Without this the second of two writes in a row waits 40 ms for the peer's delayed acknowledgement.
    raw.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
    raw.setsockopt(socket.SOL_SOCKET, socket.SO_KEEPALIVE, 1)
    for name, value in {**_KEEPALIVE, "TCP_USER_TIMEOUT": _UNREAD_LIMIT_MS}.items():
        if hasattr(socket, name):  # not on every system
            raw.setsockopt(socket.IPPROTO_TCP, getattr(socket, name), value)


def close_quietly(session: Any) -> None:  # noqa: ANN401 - untyped backend
    """Close what lies under a session whose own closing may have failed half-way."""
    with contextlib.suppress(Exception):
        session.interface.close()


def is_lock_granted(session: Any, key: str, *, alone: bool) -> bool:  # noqa: ANN401 - untyped backend
    """Ask for the instrument's own lock. An instrument or connection without locks grants it by having none.

    Args:
        session: The backend's.
        key: What several links of this program share the lock by, over HiSLIP.
        alone: Whether this is the only link. Over VXI-11 a lock belongs to one link, so only then is it asked for.
    """
    raw: Any = getattr(session, "interface", None)
    with contextlib.suppress(Exception):
        if hasattr(raw, "async_lock_request"):
            return bool(_hislip_lock(raw, key) != _HISLIP_LOCKED)
        if hasattr(raw, "device_lock") and alone:
            return bool(raw.device_lock(session.link, 0, 0) != _VXI11_LOCKED)
    return True


def unlock(session: Any) -> None:  # noqa: ANN401 - untyped backend
    """Give a lock back that belongs to one link, so that another of this program may work beside it."""
    raw: Any = getattr(session, "interface", None)
    with contextlib.suppress(Exception):
        if hasattr(raw, "device_unlock"):
            raw.device_unlock(session.link)


def _hislip_lock(raw: Any, key: str) -> str:  # noqa: ANN401 - untyped backend
    channel: socket.socket = raw._async  # noqa: SLF001 - no other way to bound the wait
    before_s = channel.gettimeout()
    channel.settimeout(_LOCK_ANSWER_S)
    try:
        return str(raw.async_lock_request(0.0, key))
    finally:
        channel.settimeout(before_s)
