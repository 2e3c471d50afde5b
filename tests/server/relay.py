"""A cable with a switch: a loopback port that passes connections on to another, from when it is plugged in."""

import socket
from collections.abc import Callable
from contextlib import suppress
from threading import Thread


class Relay:
    """Stands between a service and an instrument."""

    def __init__(self, port: int) -> None:
        """Take a port of its own that refuses connections, before that of the instrument."""
        self._to_port = port
        self._links: list[socket.socket] = []
        self._threads: list[Thread] = []
        self._take_port(0)

    def _take_port(self, port: int) -> None:
        self._listener = socket.socket()
        self._listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        self._listener.bind(("127.0.0.1", port))
        self.port: int = self._listener.getsockname()[1]

    def plug_in(self) -> None:
        """Pass connections on from now."""
        self._listener.listen()
        self._run(self._accept)

    def pull(self) -> None:
        """Cut every connection and refuse new ones."""
        for one in [self._listener, *self._links]:
            with suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)

    def plug_in_again(self) -> None:
        """Let go of what was cut, and pass new connections on."""
        self.close()
        self._links.clear()
        self._threads.clear()
        self._take_port(self.port)
        self.plug_in()

    def close(self) -> None:
        """Pull, and let go of everything."""
        self.pull()
        for thread in self._threads:
            thread.join()
        for one in [self._listener, *self._links]:
            one.close()

    def _run(self, work: Callable[..., None], *arguments: socket.socket) -> None:
        thread = Thread(target=work, args=arguments, daemon=True)
        self._threads.append(thread)
        thread.start()

    def _accept(self) -> None:
        with suppress(OSError):
            while True:
                near, _ = self._listener.accept()
                self._links.append(near)  # at once: it must be closed too where nobody answers behind
                far = socket.create_connection(("127.0.0.1", self._to_port))
                self._links.append(far)
                self._run(_copy, near, far)
                self._run(_copy, far, near)


def _copy(one: socket.socket, other: socket.socket) -> None:
    with suppress(OSError):
        while data := one.recv(4096):
            other.sendall(data)
    with suppress(OSError):
        other.shutdown(socket.SHUT_WR)
