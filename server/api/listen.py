"""Listening: the socket, the web server around the application, and an orderly end on every signal."""

import os
import secrets
import signal
import socket
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType

import uvicorn

from server.api.app import create_app
from server.api.service import Service
from server.errors import ListenError
from server.settings import Settings, is_loopback

GRACE_S = 2
"""How long open connections may take to end at shutdown. Streams end by themselves before that."""

DEAD_PEER_MS = 6000
"""A stream whose other side acknowledges nothing for so long is closed: a laptop that was shut sends no farewell."""


class _WebServer(uvicorn.Server):
    """Ends the run and the streams first, since an open stream would otherwise hold the shutdown up."""

    def __init__(self, config: uvicorn.Config, service: Service, ready: Callable[[], None]) -> None:
        super().__init__(config)
        self._service = service
        self._ready = ready

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        self._ready()

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        await self._service.wind_down()
        await super().shutdown(sockets)


def open_listener(host: str, port: int) -> socket.socket:
    """Take the address, so that a port in use is found before any instrument is touched.

    Raises:
        ListenError: it is in use or not ours.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    listener = socket.socket(family, socket.SOCK_STREAM)
    try:
        if os.name == "posix":
            listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        if hasattr(socket, "TCP_USER_TIMEOUT"):
            listener.setsockopt(socket.IPPROTO_TCP, socket.TCP_USER_TIMEOUT, DEAD_PEER_MS)
        listener.bind((host, port))
        listener.listen(128)
    except OSError as error:
        listener.close()
        raise ListenError(f"Cannot listen on {host} port {port} ({error.strerror}); give another --port.") from error
    return listener


def token_for(host: str) -> str | None:
    """Make a token where others can reach the service; none is needed where only this machine can."""
    return None if is_loopback(host) else secrets.token_urlsafe(16)


def page_address(settings: Settings, listener: socket.socket) -> str:
    """Give the address of the page, with the token that it asks for."""
    host, port = listener.getsockname()[:2]
    if host in {"0.0.0.0", "::"}:  # noqa: S104 - recognised, not listened on
        host = socket.gethostname()
    shown = f"[{host}]" if ":" in host else host
    return f"http://{shown}:{port}/" + (f"?token={settings.token}" if settings.token else "")


def listen(service: Service, listener: socket.socket, *, ready: Callable[[], None]) -> None:
    """Serve until a signal ends it. However it ends, the source is off and the record closed before this returns.

    Args:
        service: what to serve.
        listener: where; closed afterwards.
        ready: called once the page can be opened.
    """
    config = uvicorn.Config(
        create_app(service),
        log_config=None,
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=GRACE_S,
        lifespan="on",
    )
    web = _WebServer(config, service, ready)
    try:
        with _ending_by_signals(web):
            web.run(sockets=[listener])
    except KeyboardInterrupt:
        return  # Ctrl-C is the ordinary way to end a service in a terminal
    finally:
        service.close()
        listener.close()


@contextmanager
def _ending_by_signals(web: uvicorn.Server) -> Iterator[None]:
    """Let every signal that would kill us end the service in order instead.

    The web server handles SIGINT and SIGTERM itself, and afterwards raises them again for whoever handled them before:
    here nobody, so that what follows it still runs. A terminal that is closed sends SIGHUP.
    """

    def end(_number: int, _frame: FrameType | None) -> None:
        web.should_exit = True

    numbers = [signal.SIGTERM] + ([signal.SIGHUP] if hasattr(signal, "SIGHUP") else [])
    before = {number: signal.signal(number, end) for number in numbers}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
