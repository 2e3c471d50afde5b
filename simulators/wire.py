"""The wire: a line server on the loopback interface. One thread takes calls, one serves each client."""

import contextlib
import socket
import threading
from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol

_BACKLOG = 256
_CHUNK_BYTES = 65536
_LONGEST_LINE_BYTES = 1 << 20


@dataclass(frozen=True, slots=True)
class Reply:
    """What goes back: the bytes as they stand (terminator included), how late, and whether the line is cut after."""

    data: bytes
    delay_s: float = 0.0
    cut: bool = False


class Session(Protocol):
    """One client's conversation."""

    def answer(self, line: bytes) -> Reply | None:
        """Take one line without its terminator; give what to send, or None to send nothing."""

    def overrun(self) -> None:
        """A line longer than the input buffer was thrown away."""


class LineServer:
    """Serves lines that end in LF, on 127.0.0.1 and a port the system chooses, until stopped."""

    def __init__(self, open_session: Callable[[], Session], wait: Callable[[float], None]) -> None:
        """Listen, but serve nobody until `start`.

        Args:
            open_session: makes the conversation of one new client.
            wait: lets a number of seconds pass, for replies that are late.
        """
        self._open_session = open_session
        self._wait = wait
        self._stopping = threading.Event()
        self._lock = threading.Lock()
        self._clients: dict[socket.socket, threading.Thread] = {}
        self._listener = socket.create_server(("127.0.0.1", 0), backlog=_BACKLOG)
        self.port: int = self._listener.getsockname()[1]
        self._acceptor = threading.Thread(target=self._accept, name=f"accept {self.port}", daemon=True)

    def start(self) -> None:
        """Begin to serve."""
        self._acceptor.start()

    def stop(self) -> None:
        """Cut every client, close the port and wait for the threads."""
        self._stopping.set()
        with contextlib.suppress(OSError):
            self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        if self._acceptor.is_alive():
            self._acceptor.join()
        self.cut_clients()

    def cut_clients(self) -> None:
        """Close every present client's connection and wait for its thread."""
        with self._lock:
            clients = dict(self._clients)
        for client in clients:
            with contextlib.suppress(OSError):
                client.shutdown(socket.SHUT_RDWR)
        for thread in clients.values():
            if thread is not threading.current_thread():
                thread.join()

    def _accept(self) -> None:
        while not self._stopping.is_set():
            try:
                client, _ = self._listener.accept()
            except OSError:
                return
            client.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            thread = threading.Thread(target=self._serve, args=(client,), name=f"client {self.port}", daemon=True)
            with self._lock:
                self._clients[client] = thread
            thread.start()

    def _serve(self, client: socket.socket) -> None:
        session = self._open_session()
        try:
            # A client that vanishes is no fault of the instrument: its thread just ends.
            with contextlib.suppress(OSError):
                self._converse(client, session)
        finally:
            client.close()
            with self._lock:
                self._clients.pop(client, None)

    def _converse(self, client: socket.socket, session: Session) -> None:
        kept = b""
        while not self._stopping.is_set():
            chunk = client.recv(_CHUNK_BYTES)
            if not chunk:
                return
            *lines, kept = (kept + chunk).split(b"\n")
            for line in lines:
                reply = session.answer(line)
                if reply is not None and not self._send(client, reply):
                    return
            if len(kept) > _LONGEST_LINE_BYTES:
                kept = b""
                session.overrun()

    def _send(self, client: socket.socket, reply: Reply) -> bool:
        """Send one reply; give False where the line is to be cut."""
        if reply.delay_s > 0.0:
            self._wait(reply.delay_s)
        if reply.data:
            client.sendall(reply.data)
        return not reply.cut
