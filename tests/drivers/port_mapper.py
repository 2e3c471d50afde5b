"""A port mapper that knows one VXI-11 instrument, over UDP for who looks for it and over TCP for who calls it.

RFC 1833 section 3 (version 2, procedure 3: PMAPPROC_GETPORT) over RFC 5531.
"""

from __future__ import annotations

import socket
import struct
from contextlib import ExitStack
from threading import Thread
from typing import TYPE_CHECKING, Self

if TYPE_CHECKING:
    from collections.abc import Callable

PORT = 111
EVERYBODY = "127.255.255.255"
"""What loopback's network calls all of its hosts."""

_GET_PORT = 3
_CORE_CHANNEL = 0x0607AF
"""VXI-11 revision 1.0, table B.2: the program number of the core channel."""


class PortMapper:
    """Tells on which port a core channel is, and nothing of any other program."""

    def __init__(self, told_port: int) -> None:
        """Take the ports.

        Raises:
            OSError: They are taken, or only for the system's own user.
        """
        self._told_port = told_port
        with ExitStack() as opening:
            self._heard = opening.enter_context(socket.socket(socket.AF_INET, socket.SOCK_DGRAM))
            self._heard.bind((EVERYBODY, PORT))
            self._said = opening.enter_context(socket.socket(socket.AF_INET, socket.SOCK_DGRAM))
            self._said.bind(("127.0.0.1", 0))
            self._called = opening.enter_context(socket.create_server(("127.0.0.1", PORT)))
            self._stack = opening.pop_all()

    def __enter__(self) -> Self:
        """Listen."""
        self._serve(self._answer_a_packet)
        self._serve(self._answer_a_call)
        return self

    def __exit__(self, *_: object) -> None:
        """Listen no more."""
        self._stack.close()

    def _serve(self, answer_one: Callable[[], None]) -> None:
        def serve() -> None:
            try:
                while True:
                    answer_one()
            except OSError:  # closed
                return

        Thread(target=serve, daemon=True).start()

    def _answer_a_packet(self) -> None:
        call, caller = self._heard.recvfrom(1024)
        self._said.sendto(self._result(call), caller)

    def _answer_a_call(self) -> None:
        connection, _ = self._called.accept()
        with connection:
            call = connection.recv(1024)[4:]
            result = self._result(call)
            connection.sendall(struct.pack("!I", 0x8000_0000 | len(result)) + result)

    def _result(self, call: bytes) -> bytes:
        number, procedure = struct.unpack_from("!I", call, 0)[0], struct.unpack_from("!I", call, 20)[0]
        program = struct.unpack_from("!I", call, 40)[0]  # both credentials are empty
        known = procedure == _GET_PORT and program == _CORE_CHANNEL
        return struct.pack("!7I", number, 1, 0, 0, 0, 0, self._told_port if known else 0)
