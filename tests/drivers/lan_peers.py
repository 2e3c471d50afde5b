"""Instruments behind HiSLIP and VXI-11, written from the open specifications and just large enough for a conversation.

HiSLIP: IVI-6.1 (message types of its table 4). VXI-11: TCP/IP Instrument Protocol 1.0 over ONC RPC, RFC 5531 and 4506.
"""

from __future__ import annotations

import struct
from typing import TYPE_CHECKING

from tests.drivers.peers import Connection, Peer

if TYPE_CHECKING:
    from collections.abc import Callable

_HISLIP_HEADER = struct.Struct("!2sBBIQ")
_INITIALIZE, _INITIALIZE_RESPONSE = 0, 1
_LOCK, _LOCK_RESPONSE = 4, 5
_DATA_END = 7
_CLEAR_COMPLETE, _CLEAR_ACKNOWLEDGE = 8, 9
_MAX_SIZE, _MAX_SIZE_RESPONSE = 15, 16
_ASYNC_INITIALIZE, _ASYNC_INITIALIZE_RESPONSE = 17, 18
_ASYNC_CLEAR, _ASYNC_CLEAR_ACKNOWLEDGE = 19, 23
_ANSWERED_AT_ONCE = {
    _INITIALIZE: (_INITIALIZE_RESPONSE, 0x0100_0001),
    _ASYNC_INITIALIZE: (_ASYNC_INITIALIZE_RESPONSE, 0),
    _MAX_SIZE: (_MAX_SIZE_RESPONSE, 0),
    _ASYNC_CLEAR: (_ASYNC_CLEAR_ACKNOWLEDGE, 0),
    _CLEAR_COMPLETE: (_CLEAR_ACKNOWLEDGE, 0),
}

_CREATE_LINK, _WRITE, _READ, _CLEAR, _LOCK_DEVICE, _UNLOCK_DEVICE, _DESTROY_LINK = 10, 11, 12, 15, 18, 19, 23
_IO_TIMEOUT = 15
_FULL, _END = 1, 4


class HislipPeer(Peer):
    """Its two channels are two connections; the second only negotiates."""

    def __init__(self, answer: Callable[[str], str | None]) -> None:
        super().__init__(self._serve_channel)
        self._answer = answer

    @property
    def address(self) -> str:
        """Where it listens, as VISA writes it."""
        return f"TCPIP::127.0.0.1::hislip0,{self.port}::INSTR"

    def _serve_channel(self, connection: Connection) -> None:
        while True:
            _, kind, _, parameter, length = _HISLIP_HEADER.unpack(connection.exactly(_HISLIP_HEADER.size))
            payload = connection.exactly(length)
            if kind in _ANSWERED_AT_ONCE:
                response, parameter = _ANSWERED_AT_ONCE[kind]
                self._say(connection, response, parameter, payload if kind == _MAX_SIZE else b"")
            elif kind == _LOCK:
                self._say(connection, _LOCK_RESPONSE, 0, control=self._lock())
            elif kind == _DATA_END:
                self._reply(connection, parameter, payload.decode().rstrip("\n"))

    def _lock(self) -> int:
        """1 where the lock is given, 0 where another client has it."""
        return 1

    def _reply(self, connection: Connection, parameter: int, message: str) -> None:
        if (reply := self._answer(message)) is not None:
            self._say_data(connection, parameter, reply.encode() + b"\n")

    def _say_data(self, connection: Connection, parameter: int, data: bytes) -> None:
        self._say(connection, _DATA_END, parameter, data)

    @staticmethod
    def _say(connection: Connection, kind: int, parameter: int, payload: bytes = b"", control: int = 0) -> None:
        connection.say(_HISLIP_HEADER.pack(b"HS", kind, control, parameter, len(payload)) + payload)


class Vxi11Peer(Peer):
    """Every call has an answer, also the read that has nothing to give."""

    def __init__(self, answer: Callable[[str], str | None]) -> None:
        super().__init__(self._serve_calls)
        self._answer = answer
        self._waiting: bytes | None = None

    @property
    def address(self) -> str:
        """Where it listens, as VISA writes it: the port saves the port mapper."""
        return f"TCPIP::127.0.0.1,{self.port}::inst0::INSTR"

    def _serve_calls(self, connection: Connection) -> None:
        while True:
            (mark,) = struct.unpack("!I", connection.exactly(4))
            call = connection.exactly(mark & 0x7FFF_FFFF)
            (number,), (procedure,) = struct.unpack_from("!I", call, 0), struct.unpack_from("!I", call, 20)
            accepted = struct.pack("!6I", number, 1, 0, 0, 0, 0)
            reply = accepted + self._result(procedure, call[40:])  # both credentials are empty
            connection.say(struct.pack("!I", 0x8000_0000 | len(reply)) + reply)

    def _result(self, procedure: int, arguments: bytes) -> bytes:
        if procedure == _CREATE_LINK:
            return struct.pack("!iiII", 0, 1, 0, 65_536)
        if procedure == _WRITE:
            (length,) = struct.unpack_from("!I", arguments, 16)
            self._take(arguments[20 : 20 + length].decode().rstrip("\n"))
            return struct.pack("!iI", 0, length)
        if procedure == _READ:
            wanted, timeout_ms = struct.unpack_from("!II", arguments, 4)
            given = self._give(wanted, timeout_ms / 1000)
            if given is None:
                return struct.pack("!iiI", _IO_TIMEOUT, 0, 0)
            data, is_end = given
            return struct.pack("!iiI", 0, _END if is_end else _FULL, len(data)) + data + bytes(-len(data) % 4)
        if procedure in {_LOCK_DEVICE, _UNLOCK_DEVICE}:
            return struct.pack("!i", self._lock() if procedure == _LOCK_DEVICE else 0)
        if procedure == _CLEAR:
            self._clear()
        assert procedure in {_CLEAR, _DESTROY_LINK}
        return struct.pack("!i", 0)

    def _lock(self) -> int:
        """0 where the lock is given, 11 where another link has it."""
        return 0

    def _take(self, message: str) -> None:
        """Answer a message; a new one empties the output queue (488.2 section 6.3.2.3)."""
        reply = self._answer(message)
        self._waiting = None if reply is None else reply.encode() + b"\n"

    def _give(self, wanted: int, timeout_s: float) -> tuple[bytes, bool] | None:  # noqa: ARG002 - a queue may wait
        """Give what is in the output queue, and whether that is all of it."""
        if self._waiting is None:
            return None
        data, rest = self._waiting[:wanted], self._waiting[wanted:]
        self._waiting = rest or None
        return data, not rest

    def _clear(self) -> None:
        self._waiting = None
