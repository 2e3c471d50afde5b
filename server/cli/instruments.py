"""`peakwright instruments`: look for instruments and say what answers."""

from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from server.wiring import FoundInstrument

UNKNOWN_ROLE = "in no list here; name it in a bench file under the role it should play"


def instruments(
    addresses: Annotated[
        list[str] | None,
        typer.Argument(metavar="[VISA]...", help="Addresses to ask as well; a plain socket announces itself nowhere."),
    ] = None,
) -> None:
    """Look for instruments on this machine's buses and network, and say what answers."""
    from server.wiring import find_instruments  # noqa: PLC0415 - keeps the help quick

    typer.echo("Looking for instruments; this takes some seconds.", err=True)
    found = find_instruments(addresses or ())
    for one in found:
        typer.echo(describe(one))
    if not found:
        typer.echo("Nothing answered; give the address of an instrument that you know is there.", err=True)


def describe(found: "FoundInstrument") -> str:
    """Give one line: the address, who answered there, and what it can be; or why it cannot be used."""
    if found.identity is None:
        return f"{found.address}  {found.detail}"
    return f"{found.address}  {found.identity}  ({' or '.join(found.roles) or UNKNOWN_ROLE})"
