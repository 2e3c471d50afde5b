"""`peakwright doctor`: what is wrong with this installation, this bench and this record, and what mends it."""

from pathlib import Path
from typing import Annotated

import typer

from server.cli.options import Store


def doctor(
    bench: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Look at the instruments of this bench too.")
    ] = None,
    store: Store = None,
) -> None:
    """Say what is wrong with this installation, bench and record; the exit status is 1 where anything is."""
    from server.checkup import check_all  # noqa: PLC0415 - keeps the help quick

    findings = check_all(bench, store)
    for finding in findings:
        typer.echo(f"{'ok     ' if finding.well else 'TROUBLE'}  {finding.what}: {finding.text}")
    if not all(finding.well for finding in findings):
        raise typer.Exit(1)
