"""Small servers on loopback sockets that misbehave in one way each."""

from __future__ import annotations

import socket
import threading
import time
from contextlib import suppress
from typing import TYPE_CHECKING, Self

import psutil

if TYPE_CHECKING:
    from collections.abc import Callable

NAME = "Invented Works,Thing 1,0,1"


class Connection:
    """The server's end of one client's link."""

    def __init__(self, raw: socket.socket, received: list[bytes]) -> None:
        self._raw = raw
        self._received = received
        self._lines = raw.makefile("rb")

    def line(self) -> str | None:
        """Wait for the next message; None once the client has hung up."""
        data = self._lines.readline()
        if not data:
            return None
        self._received.append(data)
        return data.decode().rstrip("\n")

    def exactly(self, count: int) -> bytes:
        """Wait for so many bytes.

        Raises:
            OSError: The client has hung up.
        """
        data = self._lines.read(count)
        if len(data) < count:
            raise ConnectionError
        return data

    def say(self, data: bytes) -> None:
        """Send bytes as they are."""
        self._raw.sendall(data)

    def hang_up(self) -> None:
        """Close the link, letting the client know."""
        with suppress(OSError):
            self._raw.shutdown(socket.SHUT_RDWR)
        self._lines.close()
        self._raw.close()


class Peer:
    """Listens on a free loopback port and lets `behave` deal with each client, each in its own thread or in turn."""

    def __init__(self, behave: Callable[[Connection], None], *, one_at_a_time: bool = False) -> None:
        self._behave = behave
        self._one_at_a_time = one_at_a_time
        self._listener = socket.create_server(("127.0.0.1", 0), backlog=128)
        self.port: int = self._listener.getsockname()[1]
        self.received: list[bytes] = []
        self._connections: list[Connection] = []
        self._threads = [threading.Thread(target=self._accept)]

    @property
    def address(self) -> str:
        """Where it listens, as VISA writes it."""
        return f"TCPIP::127.0.0.1::{self.port}::SOCKET"

    def __enter__(self) -> Self:
        self._threads[0].start()
        return self

    def __exit__(self, *exception: object) -> None:
        self._listener.shutdown(socket.SHUT_RDWR)  # close alone would not wake the accepting thread
        self._threads[0].join()
        self._listener.close()
        for connection in self._connections:
            connection.hang_up()
        for thread in self._threads[1:]:
            thread.join()

    def _accept(self) -> None:
        while True:
            try:
                raw, _ = self._listener.accept()
            except OSError:
                return
            raw.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            connection = Connection(raw, self.received)
            self._connections.append(connection)
            if self._one_at_a_time:
                self._serve(connection)
                continue
            self._threads.append(threading.Thread(target=self._serve, args=(connection,)))
            self._threads[-1].start()

    def _serve(self, connection: Connection) -> None:
        with suppress(OSError, ValueError):  # the client, or the end of the test, closed it meanwhile
            self._behave(connection)
        connection.hang_up()


def answering(answer: Callable[[str], str | None]) -> Callable[[Connection], None]:
    """Behave well: one line out for each line in, none where `answer` gives None."""

    def behave(connection: Connection) -> None:
        while (message := connection.line()) is not None:
            reply = answer(message)
            if reply is not None:
                connection.say(reply.encode() + b"\n")

    return behave


def echoing(answer: Callable[[str], str | None]) -> Callable[[str], str | None]:
    """Give the instrument the register of IEEE 488.2 section 10.10, and let `answer` see what else was asked."""
    register = ""

    def with_register(message: str) -> str | None:
        nonlocal register
        units, begun, ended = message.split(";"), [], []
        while units and units[-1] == "*ESE?":
            ended.append(units.pop())
        at = next((n for n, unit in enumerate(units) if unit.startswith("*ESE ")), None)
        if at is not None:
            register = units.pop(at).removeprefix("*ESE ")
        if at is not None and units[at : at + 1] == ["*ESE?"]:
            begun.append(units.pop(at))
        reply = answer(";".join(units)) if units else None
        if units and reply is None:
            return None
        parts = [register for _ in begun] + ([] if reply is None else [reply]) + [register for _ in ended]
        return ";".join(parts) or None

    return with_register


def saying(*pieces: bytes) -> Callable[[Connection], None]:
    """Say the same to each message, piece by piece."""

    def behave(connection: Connection) -> None:
        while connection.line() is not None:
            for piece in pieces:
                connection.say(piece)

    return behave


def wait_until(condition: Callable[[], bool]) -> None:
    """Look until it is so; fail after a minute."""
    deadline = time.monotonic() + 60.0
    while not condition():
        assert time.monotonic() < deadline, "it never came to be"
        time.sleep(0.002)


def client_sockets(port: int) -> list[socket.socket]:
    """Duplicates of this process's own sockets that are connected to a port, found without asking the driver."""
    connections = psutil.Process().net_connections("tcp4")
    return [
        socket.socket(fileno=socket.dup(connection.fd))
        for connection in connections
        if connection.raddr and connection.raddr.port == port
    ]
