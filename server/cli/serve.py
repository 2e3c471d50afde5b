"""`peakwright serve`: the page over real instruments."""

from pathlib import Path
from typing import Annotated

import typer

from server.cli.options import DEFAULT_PORT, LogLevel, Port, ReceiverFiles, Store, checked_level


def serve(
    bench: Annotated[Path, typer.Option(metavar="FILE", help="The bench file: which instrument plays which role.")],
    port: Port = DEFAULT_PORT,
    host: Annotated[
        str, typer.Option(help="Address to listen on. Others than this machine need a token.")
    ] = "127.0.0.1",
    certificate: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Serve HTTPS with this certificate and its chain (PEM).")
    ] = None,
    key: Annotated[Path | None, typer.Option(metavar="FILE", help="The certificate's key (PEM).")] = None,
    store: Store = None,
    receiver: ReceiverFiles = None,
    log_level: LogLevel = "warning",
) -> None:
    """Serve the page over the instruments that a bench file names."""
    from server.bench.file import read_bench_file  # noqa: PLC0415 - keeps the help quick

    bench_file = read_bench_file(bench)
    from server.api.listen import check_certificate, token_for  # noqa: PLC0415 - the same
    from server.cli.serving import run_service  # noqa: PLC0415 - takes its second once the bench file is right
    from server.settings import Settings, default_store_path  # noqa: PLC0415 - the same

    check_certificate(certificate, key)
    settings = Settings(
        mode="bench",
        bench_file=bench_file,
        store_path=store or default_store_path("bench"),
        host=host,
        port=port,
        token=token_for(host),
        certificate=certificate,
        key=key,
        log_level=checked_level(log_level),
        receiver_files=tuple(receiver or ()),
    )
    run_service(settings)
