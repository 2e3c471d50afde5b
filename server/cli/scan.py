"""`peakwright scan`: one scan without the page, for scripts.

Every value arrives as text and is read here, so that whatever is wrong with one is a sentence and exit status 1.
"""

from collections.abc import Callable
from typing import Annotated, TypeVar

import typer

from server.cli.quantities import parse_choice, parse_count, parse_dbm, parse_hertz, parse_percent, parse_seconds
from server.errors import OrderRefused

T = TypeVar("T")
DETECTORS = ("linear", "square", "calibrate")


def scan(  # noqa: PLR0913, PLR0917 - one parameter an option
    source: Annotated[str, typer.Option(metavar="VISA", help="VISA address of the source, or person.")] = "",
    meter: Annotated[str, typer.Option(metavar="VISA", help="VISA address of the meter, person, or sound.")] = "",
    start: Annotated[str, typer.Option(metavar="FREQUENCY", help="Where the scan starts: 455kHz, 7.1MHz.")] = "",
    stop: Annotated[str, typer.Option(metavar="FREQUENCY", help="Where it stops.")] = "",
    level: Annotated[str, typer.Option(metavar="DBM", help="Source level, e.g. --level=-60.")] = "",
    settle: Annotated[
        str, typer.Option(metavar="S", help="Wait before each reading: 0.05 or 50ms. Left out, it is found out.")
    ] = "",
    detector: Annotated[
        str, typer.Option(metavar="LAW", help="The detector's law: linear, square, or calibrate to learn it.")
    ] = "linear",
    readings: Annotated[
        str, typer.Option(metavar="N", help="An even sweep of N readings. Left out, the scan chooses its frequencies.")
    ] = "",
    until_centre: Annotated[
        str,
        typer.Option(metavar="PERCENT", help="Stop when one sigma of the centre is under this share of the width."),
    ] = "",
    step: Annotated[
        str,
        typer.Option(metavar="HZ", help="Finest step of a source that a person sets. Round steps if omitted."),
    ] = "",
    tone: Annotated[
        str, typer.Option(metavar="HZ", help="With --meter sound: the tone that the source is modulated with.")
    ] = "",
    json: Annotated[bool, typer.Option("--json", help="Print the result as one JSON object.")] = False,
) -> None:
    """Scan a response with a source and a meter, and print its centre and widths."""
    from server.terminal.headless import HeadlessScan, run_headless  # noqa: PLC0415 - keeps the help quick

    order = HeadlessScan(
        source=_required("--source", source, str),
        meter=_required("--meter", meter, str),
        start_hz=_required("--start", start, parse_hertz),
        stop_hz=_required("--stop", stop, parse_hertz),
        level_dbm=_required("--level", level, parse_dbm),
        settle_s=_optional("--settle", settle, parse_seconds),
        detector=_required("--detector", detector, lambda text: parse_choice(text, DETECTORS)),
        readings=_optional("--readings", readings, parse_count),
        until_centre_fraction=_optional("--until-centre", until_centre, parse_percent),
        step_hz=_optional("--step", step, parse_hertz),
        tone_hz=_optional("--tone", tone, parse_hertz),
    )
    typer.echo(run_headless(order, as_json=json))


def _required(option: str, text: str, parse: Callable[[str], T]) -> T:
    value = _optional(option, text, parse)
    if value is None:
        raise OrderRefused(f"{option} is missing; `peakwright scan --help` lists what a scan needs.")
    return value


def _optional(option: str, text: str, parse: Callable[[str], T]) -> T | None:
    if not text:
        return None
    try:
        return parse(text)
    except ValueError as error:
        raise OrderRefused(f"{option}: {error}") from error
