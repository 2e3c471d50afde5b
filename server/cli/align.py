"""`peakwright align`: walk the whole alignment of a receiver at the terminal."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from server.cli.options import ReceiverFile, Store
from server.errors import OrderRefused
from server.terminal.typed_lines import TypedLines


def align(  # noqa: PLR0913, PLR0917 - one parameter an option
    file: ReceiverFile,
    bench: Annotated[
        Path | None, typer.Option(metavar="FILE", help="The bench file: which instrument plays which role.")
    ] = None,
    practice: Annotated[bool, typer.Option("--practice", help="Work on a practice bench, started for it.")] = False,
    seed: Annotated[int, typer.Option(help="Practice: which unit of the receiver stands on the bench.")] = 1,
    unattended: Annotated[
        bool, typer.Option("--unattended", help="Practice: the tool's own hands do all, and take what is proposed.")
    ] = False,
    speed: Annotated[
        float, typer.Option(min=0.01, max=10000.0, help="Practice: how many times as fast as real time all goes.")
    ] = 1.0,
    step: Annotated[str | None, typer.Option(metavar="ID", help="Do only this step, again if need be.")] = None,
    job: Annotated[int | None, typer.Option(metavar="NUMBER", help="Go on with this job of the record.")] = None,
    owner: Annotated[str | None, typer.Option(help="Whose receiver it is.")] = None,
    make: Annotated[str | None, typer.Option(help="Its make, as the owner gives it.")] = None,
    serial: Annotated[str | None, typer.Option(help="Its serial number; only a job with it is gone on with.")] = None,
    operator: Annotated[str | None, typer.Option(help="Who does the alignment.")] = None,
    room: Annotated[float | None, typer.Option(metavar="C", help="Room temperature in degrees Celsius.")] = None,
    calibration: Annotated[
        str | None, typer.Option(metavar="NOTE", help="When and how instruments were calibrated.")
    ] = None,
    live: Annotated[
        bool, typer.Option("--live", help="Turn adjusters live, by a line that is redrawn as you turn; Enter ends it.")
    ] = False,
    store: Store = None,
) -> None:
    """Walk the alignment of a receiver, step by step; type stop at any prompt, and go on later."""
    if practice == (bench is not None):
        raise OrderRefused("Give either --bench FILE for real instruments or --practice for simulated ones.")
    if not practice and (unattended or speed != 1.0):
        raise OrderRefused("--unattended and --speed are for the practice bench; give --practice with them.")
    from sequences.alignment.outcome import Turning  # noqa: PLC0415 - keeps the help quick
    from server.alignment.terminal_job import AlignOrder, carry_out_alignment  # noqa: PLC0415 - keeps the help quick
    from server.terminal.console import HarmlessConsole  # noqa: PLC0415 - keeps the help quick

    on_terminal = sys.stdout.isatty()
    console = HarmlessConsole(soft_wrap=not on_terminal, width=None if on_terminal else WIDE)
    about = {
        "owner": owner,
        "make": make,
        "serial": serial,
        "operator": operator,
        "room_temperature_c": room,
        "calibration_note": calibration,
    }
    said = {name: value for name, value in about.items() if value is not None}
    turning = Turning.LIVE if live else Turning.COUNTED
    order = AlignOrder(file, bench, store, step, seed, unattended, speed, said, job, turning)
    typed = TypedLines()
    carry_out_alignment(order, console, typed.read, typed.glance)


WIDE = 200
"""Columns where the output is no terminal."""
