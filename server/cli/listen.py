"""`peakwright listen`: the tone, the noise and the noise's edge in a receiver's sound."""

from collections.abc import Callable
from typing import Annotated

import typer

from server.cli.quantities import parse_hertz, parse_seconds
from server.errors import OrderRefused


def listen(
    source: Annotated[
        str,
        typer.Option(
            "--input", metavar="NAME|FILE.wav", help="A sound input by name, or a WAV file. Default input if omitted."
        ),
    ] = "",
    duration: Annotated[
        str, typer.Option("--for", metavar="S", help="Listen for so long, e.g. 3s. Omitted: all of a file, or live.")
    ] = "",
    between: Annotated[
        tuple[str, str],
        typer.Option(metavar="HZ HZ", help="Look for the tone, and count noise, between these: 200Hz 4kHz."),
    ] = ("", ""),
    json: Annotated[bool, typer.Option("--json", help="Print the result as one JSON object.")] = False,
) -> None:
    """Listen to a receiver: the frequency and level of its tone, its noise, and the upper edge of the noise.

    Keep the volume low before you connect: a sudden tone at full level can harm your hearing.
    """
    duration_s = _read("--for", duration, parse_seconds)
    if duration_s is not None and not duration_s > 0:
        raise OrderRefused(f"--for: {duration!r} must be longer than 0 s.")
    between_hz = _band(*between)
    from server.sound.command import run_listen  # noqa: PLC0415 - keeps the help quick

    run_listen(source or None, duration_s, between_hz, as_json=json)


def _band(lowest: str, highest: str) -> tuple[float, float] | None:
    lowest_hz, highest_hz = _read("--between", lowest, parse_hertz), _read("--between", highest, parse_hertz)
    if lowest_hz is None or highest_hz is None:
        return None
    if not 0 <= lowest_hz < highest_hz:
        raise OrderRefused("--between: the first frequency must be below the second, e.g. --between 200Hz 4kHz.")
    return lowest_hz, highest_hz


def _read(option: str, text: str, parse: Callable[[str], float]) -> float | None:
    if not text:
        return None
    try:
        return parse(text)
    except ValueError as error:
        raise OrderRefused(f"{option}: {error}") from error
