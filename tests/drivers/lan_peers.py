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
_DATA_END = 7
_MAX_SIZE, _MAX_SIZE_RESPONSE = 15, 16
_ASYNC_INITIALIZE, _ASYNC_INITIALIZE_RESPONSE = 17, 18

_CREATE_LINK, _WRITE, _READ, _DESTROY_LINK = 10, 11, 12, 23
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
            if kind == _INITIALIZE:
                self._say(connection, _INITIALIZE_RESPONSE, 0x0100_0001)
            elif kind == _ASYNC_INITIALIZE:
                self._say(connection, _ASYNC_INITIALIZE_RESPONSE, 0)
            elif kind == _MAX_SIZE:
                self._say(connection, _MAX_SIZE_RESPONSE, 0, payload)
            elif kind == _DATA_END and (reply := self._answer(payload.decode().rstrip("\n"))) is not None:
                self._say(connection, _DATA_END, parameter, reply.encode() + b"\n")

    @staticmethod
    def _say(connection: Connection, kind: int, parameter: int, payload: bytes = b"") -> None:
        connection.say(_HISLIP_HEADER.pack(b"HS", kind, 0, parameter, len(payload)) + payload)


class Vxi11Peer(Peer):
    """Every call has an answer, also the read that has nothing to give."""

    def __init__(self, answer: Callable[[str], str | None]) -> None:
        super().__init__(self._serve_calls)
        self._answer = answer
        self._reply: bytes | None = None

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
            reply = self._answer(arguments[20 : 20 + length].decode().rstrip("\n"))
            self._reply = None if reply is None else reply.encode() + b"\n"
            return struct.pack("!iI", 0, length)
        if procedure == _READ and self._reply is not None:
            (wanted,) = struct.unpack_from("!I", arguments, 4)
            data, rest = self._reply[:wanted], self._reply[wanted:]
            self._reply = rest or None
            reason = _FULL if rest else _END
            return struct.pack("!iiI", 0, reason, len(data)) + data + bytes(-len(data) % 4)
        if procedure == _READ:
            return struct.pack("!iiI", _IO_TIMEOUT, 0, 0)
        assert procedure == _DESTROY_LINK
        return struct.pack("!i", 0)
