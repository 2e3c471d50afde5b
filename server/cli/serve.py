"""`peakwright serve`: the page over real instruments."""

from pathlib import Path
from typing import Annotated

import typer

from server.cli.options import DEFAULT_PORT, Port, ReceiverFiles, Store


def serve(
    bench: Annotated[Path, typer.Option(metavar="FILE", help="The bench file: which instrument plays which role.")],
    port: Port = DEFAULT_PORT,
    host: Annotated[
        str, typer.Option(help="Address to listen on. Others than this machine need a token.")
    ] = "127.0.0.1",
    store: Store = None,
    receiver: ReceiverFiles = None,
) -> None:
    """Serve the page over the instruments that a bench file names."""
    from server.bench.file import read_bench_file  # noqa: PLC0415 - keeps the help quick

    bench_file = read_bench_file(bench)
    from server.api.listen import token_for  # noqa: PLC0415 - the same
    from server.cli.serving import run_service  # noqa: PLC0415 - takes its second once the bench file is right
    from server.settings import Settings, default_store_path  # noqa: PLC0415 - the same

    settings = Settings(
        mode="bench",
        bench_file=bench_file,
        store_path=store or default_store_path("bench"),
        host=host,
        port=port,
        token=token_for(host),
        receiver_files=tuple(receiver or ()),
    )
    run_service(settings)
