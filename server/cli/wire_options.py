"""Options that stand before a command and are about the wire: which VISA library, and what is written down of it."""

from pathlib import Path
from typing import Annotated

import typer

Visa = Annotated[
    str,
    typer.Option(
        "--visa",
        metavar="LIBRARY",
        help="Speak through a vendor's VISA: ivi for the one installed, or its file's path.",
    ),
]
WireTrace = Annotated[
    Path | None,
    typer.Option(
        "--wire-trace",
        metavar="FILE",
        help="Write what goes over the wire to a file of bounded size; addresses and serial numbers are masked.",
    ),
]
WireTraceUnmasked = Annotated[
    bool, typer.Option("--wire-trace-unmasked", help="With --wire-trace: show addresses and serial numbers.")
]


def prepare_wire(visa: str, trace: Path | None, *, unmasked: bool) -> None:
    """Do what these options say, before the command begins.

    Raises:
        OrderRefused: the library cannot be loaded, or the file not be written.
    """
    if not visa and trace is None:
        return
    from server.wiring import choose_visa, trace_wire  # noqa: PLC0415 - keeps the help quick

    if visa:
        choose_visa(visa)
    if trace is not None:
        trace_wire(trace, masked=not unmasked)
