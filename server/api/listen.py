"""Listening: the socket, the web server around the application, and an orderly end on every signal."""

import os
import secrets
import signal
import socket
import ssl
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType

import uvicorn

from sequences.engine.run import UNCONFIRMED
from server.api.app import create_app
from server.api.connections import PatientProtocol
from server.api.service import Service
from server.bench.stop_switch import STOP_SIGNALS
from server.errors import ListenError, OutputUnconfirmed
from server.settings import Settings, is_loopback

GRACE_S = 2
"""How long open connections may take to end at shutdown. Streams end by themselves before that."""

DEAD_PEER_MS = 6000
"""A stream whose other side acknowledges nothing for so long is closed: a laptop that was shut sends no farewell."""


LEFT_IN_DOUBT = f"{UNCONFIRMED} The next start tries again."


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


def check_certificate(certificate: Path | None, key: Path | None) -> None:
    """See that HTTPS can be served with these, before any instrument is touched.

    Raises:
        ListenError: it cannot.
    """
    if certificate is None and key is None:
        return
    if certificate is None or key is None:
        raise ListenError("HTTPS takes both a certificate and its key; give --certificate and --key.")
    try:
        ssl.create_default_context(ssl.Purpose.CLIENT_AUTH).load_cert_chain(certificate, key, password=_no_password)
    except (OSError, ValueError) as error:  # ssl.SSLError is an OSError
        raise ListenError(
            f"HTTPS cannot be served with {certificate} and {key} ({_reason(error)}); give a certificate and its key "
            "as PEM, without a password."
        ) from error


def _no_password() -> str:
    raise ValueError("the key asks for a password")


def _reason(error: Exception) -> str:
    return str(getattr(error, "strerror", None) or error)


def token_for(host: str) -> str | None:
    """Make a token where others can reach the service; none is needed where only this machine can."""
    return None if is_loopback(host) else secrets.token_urlsafe(16)


def page_address(settings: Settings, listener: socket.socket) -> str:
    """Give the address of the page, with the token that it asks for."""
    host, port = listener.getsockname()[:2]
    if host in {"0.0.0.0", "::"}:  # noqa: S104 - recognised, not listened on
        host = socket.gethostname()
    shown = f"[{host}]" if ":" in host else host
    scheme = "http" if settings.certificate is None else "https"
    return f"{scheme}://{shown}:{port}/" + (f"?token={settings.token}" if settings.token else "")


def listen(service: Service, listener: socket.socket, *, ready: Callable[[], None]) -> None:
    """Serve until a signal ends it. However it ends, the source is off and the record closed before this returns.

    Args:
        service: what to serve.
        listener: where; closed afterwards.
        ready: called once the page can be opened.

    Raises:
        OutputUnconfirmed: it ended, and the source did not confirm that its output is off.
    """
    config = uvicorn.Config(
        create_app(service),
        log_config=None,
        access_log=False,
        server_header=False,
        timeout_graceful_shutdown=GRACE_S,
        http=PatientProtocol,
        ws="none",
        ssl_certfile=service.settings.certificate,
        ssl_keyfile=service.settings.key,
        lifespan="on",
    )
    web = _WebServer(config, service, ready)
    with _ending_by_signals(web):  # until all is off: an impatient second Ctrl-C must not cut that short
        try:
            web.run(sockets=[listener])
        finally:
            off = service.close()
            listener.close()
            if not off:
                raise OutputUnconfirmed(LEFT_IN_DOUBT)


@contextmanager
def _ending_by_signals(web: uvicorn.Server) -> Iterator[None]:
    r"""Let every signal that would kill us end the service in order instead.

    The web server handles SIGINT and SIGTERM itself, and afterwards raises them again for whoever handled them before:
    here nobody, so that what follows it still runs. A terminal that is closed sends SIGHUP, Ctrl-\ in it SIGQUIT.
    """

    def end(_number: int, _frame: FrameType | None) -> None:
        web.should_exit = True

    numbers = [number for name in STOP_SIGNALS if (number := getattr(signal, name, None)) is not None]
    before = {number: signal.signal(number, end) for number in numbers}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
