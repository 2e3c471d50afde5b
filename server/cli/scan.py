"""`peakwright scan`: one scan without the page, for scripts."""

from collections.abc import Callable
from enum import StrEnum
from typing import Annotated

import typer

from server.cli.quantities import parse_dbm, parse_hertz, parse_percent, parse_seconds
from server.errors import OrderRefused


class DetectorLaw(StrEnum):
    """How the metered voltage depends on level."""

    LINEAR = "linear"
    SQUARE = "square"
    CALIBRATE = "calibrate"


def scan(  # noqa: PLR0913, PLR0917 - one parameter an option
    source: Annotated[str, typer.Option(metavar="VISA", help="VISA address of the signal generator.")],
    meter: Annotated[str, typer.Option(metavar="VISA", help="VISA address of the voltmeter.")],
    start: Annotated[str, typer.Option(metavar="HZ", help="Where the scan starts: 455000, 455kHz, 7.1MHz.")],
    stop: Annotated[str, typer.Option(metavar="HZ", help="Where it stops.")],
    level: Annotated[str, typer.Option(metavar="DBM", help="Source level, e.g. --level=-60.")],
    settle: Annotated[str | None, typer.Option(metavar="S", help="Wait before each reading: 0.05 or 50ms.")] = None,
    detector: Annotated[DetectorLaw, typer.Option(help="The detector's law.")] = DetectorLaw.LINEAR,
    readings: Annotated[int | None, typer.Option(metavar="N", help="An even sweep of N readings.")] = None,
    until_centre: Annotated[
        str | None,
        typer.Option(metavar="PERCENT", help="Stop when one sigma of the centre is under this share of the width."),
    ] = None,
    json: Annotated[bool, typer.Option("--json", help="Print the result as one JSON object.")] = False,
) -> None:
    """Scan a response with a source and a meter, and print centre and widths."""
    from server.headless import HeadlessScan, run_headless  # noqa: PLC0415 - keeps the help quick

    order = HeadlessScan(
        source=source,
        meter=meter,
        start_hz=_read(parse_hertz, "--start", start),
        stop_hz=_read(parse_hertz, "--stop", stop),
        level_dbm=_read(parse_dbm, "--level", level),
        settle_s=None if settle is None else _read(parse_seconds, "--settle", settle),
        detector=detector.value,
        readings=readings,
        until_centre_fraction=None if until_centre is None else _read(parse_percent, "--until-centre", until_centre),
    )
    typer.echo(run_headless(order, as_json=json))


def _read(parse: Callable[[str], float], option: str, text: str) -> float:
    try:
        return parse(text)
    except ValueError as error:
        raise OrderRefused(f"{option}: {error}") from error
