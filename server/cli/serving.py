"""What `practice` and `serve` share once their bench is known. Imported only by a command that runs."""

import logging
from logging.handlers import RotatingFileHandler
from pathlib import Path

import typer

from server.api.listen import listen, open_listener, page_address
from server.api.service import assemble
from server.practice.hands import Hands
from server.settings import Settings, default_store_path
from server.wiring import open_bench

LOG_BYTES = 1_000_000


def run_service(settings: Settings, hands: Hands | None = None) -> None:
    """Serve a bench until a signal ends it.

    Raises:
        ServerError: it cannot begin; the sentence says why.
    """
    service = assemble(settings, open_bench=open_bench, hands=hands)
    _log_beside(service.store.place.file or default_store_path(settings.mode))
    listener = open_listener(settings.host, settings.port)
    address = page_address(settings, listener)

    def tell() -> None:
        typer.echo(f"The page is at {address}")
        typer.echo(
            f"The record is {service.store.place.shown}. Ctrl-C ends the service and leaves the source off.", err=True
        )

    listen(service, listener, ready=tell)


def _log_beside(store_path: Path) -> None:
    """Faults of the program go to a file beside the record: the terminal is for sentences."""
    handler = RotatingFileHandler(store_path.with_suffix(".log"), maxBytes=LOG_BYTES, backupCount=1, delay=True)
    handler.setFormatter(logging.Formatter("%(asctime)s %(levelname)s %(name)s %(message)s"))
    logging.basicConfig(handlers=[handler], level=logging.WARNING)
