"""`peakwright practice`: a practice bench and its page, with no configuration."""

from typing import Annotated

import typer

from server.cli.options import DEFAULT_PORT, LogLevel, Port, ReceiverFiles, Store, checked_level


def practice(
    port: Port = DEFAULT_PORT,
    seed: Annotated[int, typer.Option(help="What the drift and the noise of the simulated radios start from.")] = 1,
    store: Store = None,
    receiver: ReceiverFiles = None,
    speed: Annotated[
        float, typer.Option(min=0.01, max=10000.0, help="How many times as fast as real time all goes.")
    ] = 1.0,
    log_level: LogLevel = "warning",
) -> None:
    """Start simulated instruments around simulated receivers, and the page to work on them.

    Each receiver file that is added has a simulated receiver made up from what it says.
    """
    from server.practice.process import practice_bench  # noqa: PLC0415 - keeps the help quick

    level = checked_level(log_level)
    typer.echo("The simulated instruments start. The first start takes longest.", err=True)
    described = [word for path in receiver or () for word in ("--receiver-file", str(path))]
    with practice_bench(["--seed", str(seed), "--speed", f"{speed:g}", *described]) as bench:
        from server.cli.serving import run_service  # noqa: PLC0415 - takes its second while the bench comes up
        from server.settings import Settings, default_store_path  # noqa: PLC0415 - keeps the help quick

        typer.echo("The service starts.", err=True)
        settings = Settings(
            mode="practice",
            bench_file=bench.bench_file,
            store_path=store or default_store_path("practice"),
            port=port,
            receiver_files=tuple(receiver or ()),
            speed=speed,
            log_level=level,
        )
        run_service(settings, bench.hands)
