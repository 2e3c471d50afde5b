"""The wire. The only module that meets pyvisa, and the place where the traps of its pyvisa-py backend are closed.

One message out, one answer in, with one deadline for the whole. Whatever goes wrong, the link is dropped at once: a
late reply must never be waiting for the next question. Opening again is the business of `drivers.link`.
"""

from __future__ import annotations

import contextlib
import socket
import threading
import time
import warnings
from typing import TYPE_CHECKING, Any, Protocol

from drivers.adapters import Adapter
from drivers.carriers import Carrier, HungUpError, TooLongError, carrier_of, close_quietly, is_lock_granted, unlock
from drivers.errors import (
    GarbledReplyError,
    InstrumentInUseError,
    LinkLostError,
    ReplyTimeoutError,
    ReplyTooLongError,
)
from drivers.opening import VisaMissingError, opening_error, plain
from drivers.trace import WIRE_TRACE

if TYPE_CHECKING:
    from collections.abc import Callable

    from pyvisa.resources import MessageBasedResource

LONGEST_REPLY_BYTES = 65_536
_CHUNK_BYTES = 4096


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

    def end_messages_with(self, ending: str) -> None:
        """End each message by something else than LF."""

    def lock(self, key: str, *, alone: bool) -> None:
        """Have the instrument to ourselves, or to those with the same key, where its connection knows such a thing.

        Raises:
            InstrumentInUseError: Another computer has it.
        """

    def unlock(self) -> None:
        """Let another link of this program work beside this one."""

    def clear(self) -> None:
        """Empty what is on its way: device clear where the connection has one, else read until silence. Never raises.

        What cannot be cleared shows in the next answer, which is checked against its question.
        """

    def send(self, message: str, timeout_s: float) -> None:
        """Send one message that has no reply."""

    def exchange(self, message: str, timeout_s: float, meanwhile: Callable[[], object] | None = None) -> str:
        """Send one message and give its reply without the terminator; carry something out between the two.

        Raises:
            ReplyTimeoutError: No complete reply before the deadline.
            LinkLostError: The peer hung up or stopped reading.
            ReplyTooLongError: The reply would not end.
            GarbledReplyError: The reply is not text.
        """


class VisaBackend:
    """Which VISA library this program speaks through: pyvisa-py, or a vendor's where the person chose it."""

    PYTHON = "@py"

    def __init__(self) -> None:
        self._name = self.PYTHON
        # Kept for the life of the program: pyvisa has one manager for all, and closes every session when it goes.
        self._manager: Any = None

    def choose(self, name: str) -> None:
        """Choose a library: `py`, `ivi` for a vendor's that is installed, or the path of its file.

        Raises:
            VisaMissingError: It cannot be loaded here.
        """
        self._name = name if "/" in name or "\\" in name or name.startswith("@") else f"@{name}"
        self._manager = None
        self.manager()

    def manager(self) -> Any:  # noqa: ANN401 - of whichever library
        """Give pyvisa's manager.

        Raises:
            VisaMissingError: The library cannot be loaded here.
        """
        import pyvisa  # noqa: PLC0415 - 0.15 s that `--help` need not pay

        if self._manager is None:
            try:
                self._manager = pyvisa.ResourceManager(self._name)
            except Exception as error:
                raise VisaMissingError(self._name) from error
        return self._manager


VISA = VisaBackend()
"""The library of this program."""


class VisaTransport:
    """A link through pyvisa: TCPIP SOCKET and INSTR (HiSLIP, VXI-11), ASRL, USB, GPIB, also behind an adapter.

    An instrument behind an Ethernet-to-GPIB adapter is written as two addresses, the adapter's first:
    `PRLGX-TCPIP::192.0.2.9::1234::INTFC GPIB0::7::INSTR`.
    """

    def __init__(
        self,
        address: str,
        *,
        baud: int | None = None,
        longest_reply_bytes: int = LONGEST_REPLY_BYTES,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._address = address
        self._longest_reply_bytes = longest_reply_bytes
        self._clock = clock
        self._baud = baud
        self._adapter: Adapter | None = None
        self._ending = b"\n"
        self._resource: MessageBasedResource | None = None
        self._library: Any = None
        self._handle: Any = None
        self._carrier = Carrier()
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
            told = opening_error(self._address, error)
            WIRE_TRACE.failed(self._address, told)
            raise told from error

    def _open_resource(self, timeout_s: float) -> None:
        import pyvisa  # noqa: PLC0415 - see above

        manager = VISA.manager()
        self._full_chunk = pyvisa.constants.StatusCode.success_max_count_read
        adapter_address, _, address = self._address.strip().rpartition(" ")
        # Always given: the backend's own defaults are 10 s for SOCKET and 0.1 s for VXI-11.
        open_timeout_ms = round(timeout_s * 1000)
        if adapter_address:
            self._adapter = Adapter.of(adapter_address.strip(), manager, open_timeout_ms)
        resource = manager.open_resource(address, open_timeout=open_timeout_ms)
        self._resource = resource
        self._handle = resource.session
        self._library = resource.visalib
        # Full chunks are looked at in `_read`; pyvisa would make a Python warning of each.
        self._library.issue_warning_on.discard(self._full_chunk)
        if not isinstance(resource, pyvisa.resources.MessageBasedResource):
            raise ValueError("this kind of connection carries no text")  # noqa: TRY004 - becomes BadAddressError
        _set_terminator(resource)
        if self._baud is not None:
            resource.baud_rate = self._baud  # type: ignore[attr-defined] # of a serial port
        self._set_timeout(timeout_s)
        self._carrier = carrier_of(self._session() or resource, self._clock)

    def _session(self) -> Any:  # noqa: ANN401 - of the backend, which has no types; None with a vendor's
        return getattr(self._library, "sessions", {}).get(self._handle)

    def close(self) -> None:
        """Drop the link, whatever state it is in. Never raises."""
        resource, self._resource = self._resource, None
        carrier, self._carrier = self._carrier, Carrier()
        adapter, self._adapter = self._adapter, None
        try:
            if resource is not None:
                self._close(resource, carrier)
        finally:
            if adapter is not None:
                adapter.release()

    def _close(self, resource: MessageBasedResource, carrier: Carrier) -> None:
        session = self._session()
        with contextlib.suppress(OSError):
            carrier.forsake()
        with contextlib.suppress(Exception):  # a dead link may fail to close in any way; it is given up all the same
            resource.close()
        close_quietly(session)
        # The backend keeps each closed session for ever.
        getattr(self._library, "sessions", {}).pop(self._handle, None)

    def end_messages_with(self, ending: str) -> None:
        """End each message by something else than LF."""
        self._ending = ending.encode("ascii")

    def lock(self, key: str, *, alone: bool) -> None:
        """Have the instrument to ourselves, where its connection knows such a thing and the instrument grants it.

        Args:
            key: What links of this program share the lock by.
            alone: Whether this link is the only one.

        Raises:
            InstrumentInUseError: Another computer has it.
        """
        session = self._session()
        if session is not None and not is_lock_granted(session, key, alone=alone):
            self.close()
            raise InstrumentInUseError(self._address, "another computer")

    def unlock(self) -> None:
        """Let another link of this program work beside this one."""
        session = self._session() if self._resource is not None else None
        if session is not None:
            unlock(session)

    def is_ready(self) -> bool:
        """Whether the link is up, the peer has not hung up, and nothing unread (a late reply) is waiting."""
        try:
            return self._resource is not None and self._carrier.is_ready()
        except (OSError, ValueError):  # the peer reset the link, or its socket is closed already
            return False

    def clear(self) -> None:
        """Empty what is on its way: device clear where the connection has one, else read until silence."""
        if self._resource is not None:
            with contextlib.suppress(Exception):  # not every instrument can; the next answer shows it
                self._carrier.clear()

    def send(self, message: str, timeout_s: float) -> None:
        """Send one message that has no reply."""
        self._attempt(message, timeout_s, expects_reply=False)

    def exchange(self, message: str, timeout_s: float, meanwhile: Callable[[], object] | None = None) -> str:
        """Send one message and give its reply without the terminator; carry something out between the two."""
        return self._attempt(message, timeout_s, expects_reply=True, meanwhile=meanwhile)

    def _attempt(
        self,
        message: str,
        timeout_s: float,
        *,
        expects_reply: bool,
        meanwhile: Callable[[], object] | None = None,
    ) -> str:
        if self._resource is None:
            raise LinkLostError(self._address, message, "it is not open")
        try:
            data = message.encode("ascii") + self._ending
            if WIRE_TRACE.is_on:
                WIRE_TRACE.sent(self._address, message)
            self._write(data, timeout_s)
            if not expects_reply:
                return ""
            if meanwhile is not None:
                meanwhile()
            return self._text(message, self._line(timeout_s) if self._carrier.speaks_lines else self._read(), timeout_s)
        except Exception as error:
            # VisaIOError, OSError, RuntimeError or a bare Exception, by kind of connection.
            self.close()
            told = self._exchange_error(message, timeout_s, error)
            WIRE_TRACE.failed(self._address, told)
            raise told from error
        except BaseException:
            # Ctrl-C between question and answer: the answer must not wait for the next question.
            self.close()
            raise

    def _write(self, data: bytes, timeout_s: float) -> None:
        if self._carrier.speaks_lines:
            self._carrier.write(data, timeout_s)
            return
        if timeout_s * 1000 != self._timeout_ms:
            self._set_timeout(timeout_s)
        self._library.write(self._handle, data)

    def _line(self, timeout_s: float) -> bytes | None:
        return self._carrier.read_line(timeout_s, self._longest_reply_bytes)

    def _read(self) -> bytes:
        """Read to the end by VISA, which keeps the time."""
        received = bytearray()
        while True:
            chunk, status = self._library.read(self._handle, _CHUNK_BYTES)
            received.extend(chunk)
            if len(received) > self._longest_reply_bytes:
                raise TooLongError(bytes(received[:100]))
            if status != self._full_chunk:
                return bytes(received)

    def _text(self, message: str, received: bytes | None, timeout_s: float) -> str:
        if received is None:
            raise ReplyTimeoutError(self._address, message, timeout_s)
        try:
            # Some instruments end their replies with CR LF whatever was agreed.
            text = received.decode("ascii").strip()
        except UnicodeDecodeError as error:
            shown = received[:100].decode("latin-1")
            raise GarbledReplyError(self._address, message, shown, "not readable text") from error
        if WIRE_TRACE.is_on:
            WIRE_TRACE.received(self._address, text)
        return text

    def _set_timeout(self, timeout_s: float) -> None:
        if self._resource is not None:
            self._timeout_ms = timeout_s * 1000
            self._resource.timeout = self._timeout_ms

    def _exchange_error(self, message: str, timeout_s: float, error: Exception) -> Exception:
        if isinstance(error, (ReplyTimeoutError, GarbledReplyError)):
            return error
        if isinstance(error, TooLongError):
            start = error.start.decode("latin-1")
            return ReplyTooLongError(self._address, message, start, self._longest_reply_bytes)
        if isinstance(error, HungUpError):
            return LinkLostError(self._address, message, "the instrument hung up")
        if getattr(error, "abbreviation", "") == "VI_ERROR_TMO":
            return ReplyTimeoutError(self._address, message, timeout_s)
        if isinstance(error, UnicodeEncodeError):
            return error
        return LinkLostError(self._address, message, plain(error))


def _set_terminator(resource: MessageBasedResource) -> None:
    """End replies at LF, not at a timeout. Adapters that do their own ending refuse the setting and need none."""
    with contextlib.suppress(Exception):
        resource.read_termination = "\n"


def _check_address(address: str) -> None:
    """Refuse what the backend would refuse in riddles, leaving a socket open behind it."""
    import pyvisa  # noqa: PLC0415 - see above

    for one in address.split():
        parsed = pyvisa.rname.parse_resource_name(one)
        if parsed.resource_class == "SOCKET" and not str(getattr(parsed, "port", "0")).isdecimal():
            raise ValueError("the port must be a number")
        host = getattr(parsed, "host_address", None)
        if host is not None:
            socket.getaddrinfo(host.partition(",")[0], None, socket.AF_INET)
    if not address.split():
        pyvisa.rname.parse_resource_name(address)


def list_addresses(timeout_s: float) -> tuple[str, ...]:
    """Ask the networks and buses which instruments announce themselves. Takes 2 s or more; bounded by `timeout_s`.

    Instruments on a plain SOCKET do not announce themselves and are never found this way.
    """
    found: list[str] = []

    def look() -> None:
        with contextlib.suppress(Exception), warnings.catch_warnings():
            # A missing bus is no news here, and a system's own name service may get in the way.
            warnings.simplefilter("ignore")
            found.extend(VISA.manager().list_resources())

    # A thread, since nothing else bounds it; a daemon, so that one that hangs does not keep the program.
    search = threading.Thread(target=look, name="instrument search", daemon=True)
    search.start()
    search.join(timeout_s)
    return tuple(found)
