"""`peakwright instruments`: look for instruments and say what answers, or find out how one wants to be spoken to."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from server.cli.quantities import parse_choice
from server.errors import OrderRefused

if TYPE_CHECKING:
    from server.wiring import FoundInstrument

UNKNOWN_ROLE = "in no list here; name it in a bench file under the role it should play"
ROLES = ("source", "meter", "counter")


def instruments(
    addresses: Annotated[
        list[str] | None,
        typer.Argument(metavar="[VISA]...", help="Addresses to ask as well; a plain socket announces itself nowhere."),
    ] = None,
    bench: Annotated[
        list[Path] | None, typer.Option("--bench", metavar="FILE", help="Ask those of a bench file as well.")
    ] = None,
    tried: Annotated[
        str, typer.Option("--try", metavar="VISA", help="Go through a role with this instrument, step by step.")
    ] = "",
    role: Annotated[str, typer.Option(metavar="ROLE", help="With --try: source, meter or counter.")] = "",
    allow_output: Annotated[
        bool, typer.Option("--allow-output", help="With --try: the source may come on for a moment, at -60 dBm.")
    ] = False,
    write: Annotated[
        Path | None, typer.Option(metavar="FILE", help="With --try: write the dialect here, not in your data folder.")
    ] = None,
) -> None:
    """Look for instruments on this machine's buses and network, and say what answers."""
    if tried:
        _try(tried, role, write, allow_output=allow_output)
        return
    if role or allow_output or write:
        raise OrderRefused("--role, --allow-output and --write go with --try ADDRESS.")
    from server.bench.file import read_bench_file  # noqa: PLC0415 - keeps the help quick
    from server.wiring import find_instruments  # noqa: PLC0415 - the same

    saved = [address for path in bench or () for address in read_bench_file(path).addresses]
    typer.echo("Looking for instruments; this takes some seconds.", err=True)
    found = find_instruments((*(addresses or ()), *saved))
    for one in found:
        typer.echo(describe(one))
    if not found:
        typer.echo("Nothing answered; give the address of an instrument that you know is there.", err=True)


def describe(found: "FoundInstrument") -> str:
    """Give one line: the address, who answered there, and what it can be; or why it cannot be used."""
    if found.identity is None:
        return f"{found.address}  {found.detail}"
    return f"{found.address}  {found.identity}  ({' or '.join(found.roles) or UNKNOWN_ROLE})"


def _try(address: str, role: str, write: Path | None, *, allow_output: bool) -> None:
    """Show each step; write the dialect where all of them worked."""
    try:
        parse_choice(role, ROLES)
    except ValueError as error:
        raise OrderRefused(f"--role: {error}") from error
    from server.wiring import try_instrument  # noqa: PLC0415 - keeps the help quick

    if role == "source" and not allow_output:
        typer.echo("The output stays off; --allow-output lets it come on for a moment, at -60 dBm.", err=True)

    def tell(worked: bool, text: str) -> None:
        typer.echo(f"{'works ' if worked else 'not so'}  {text}")

    path = try_instrument(address, role, tell, write=write, allow_output=allow_output)
    if path is None:
        raise OrderRefused(f"The instrument at {address} could not be used as the {role}: the steps above say why.")
    typer.echo(f"Its dialect is written to {path}")
    typer.echo(f'Name it in the bench file, under [{role}]: dialect = "{path.stem}"', err=True)
