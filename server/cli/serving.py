"""What `practice` and `serve` share once their bench is known. Imported only by a command that runs."""

import sys

import typer

from server.api.listen import listen, open_listener, page_address
from server.api.service import assemble
from server.bench.guardian import Guardian, guarded
from server.log_file import log_path, log_to
from server.practice.hands import Hands
from server.settings import Settings, default_store_path, is_loopback
from server.terminal.alarm import alarm_on
from server.wiring import open_bench

UNENCRYPTED = (
    "Nothing is encrypted on the way: whoever is on this network can read the page, and the token. Give --certificate "
    "and --key for HTTPS."
)


def run_service(settings: Settings, hands: Hands | None = None) -> None:
    """Serve a bench until a signal ends it.

    Raises:
        ServerError: it cannot begin; the sentence says why.
    """
    with guarded(settings.bench_file.source if hands is None else None) as guardian:
        _serve(settings, hands, guardian)


def _serve(settings: Settings, hands: Hands | None, guardian: Guardian | None) -> None:
    service = assemble(settings, open_bench=open_bench, hands=hands, guardian=guardian)
    log = log_path(service.store.place.file or default_store_path(settings.mode))
    log_to(log, settings.log_level)
    alarm_on(sys.stderr)
    listener = open_listener(settings.host, settings.port)
    address = page_address(settings, listener)

    def tell() -> None:
        typer.echo(f"The page is at {address}")
        if settings.certificate is None and not is_loopback(settings.host):
            typer.echo(UNENCRYPTED, err=True)
        typer.echo(
            f"The record is {service.store.place.shown}, the log {log}. Ctrl-C ends the service and leaves the source "
            "off.",
            err=True,
        )

    listen(service, listener, ready=tell)
