"""`peakwright instruments`: look for instruments and say what answers."""

import typer


def instruments() -> None:
    """Look for instruments on this machine's buses and network, and say what answers."""
    from server.wiring import find_instruments  # noqa: PLC0415 - keeps the help quick

    found = find_instruments()
    for one in found:
        typer.echo(f"{one.address}  {one.identity or one.detail}")
    if not found:
        typer.echo("No instrument answered; name yours by address in a bench file.")
