"""Options that several commands share."""

from pathlib import Path
from typing import Annotated

import typer

from server.errors import OrderRefused

Store = Annotated[
    str | None,
    typer.Option(
        "--store",
        metavar="PATH|URL",
        help="Keep the record here instead of in your data folder: a file, or postgresql://USER@HOST/DATABASE.",
    ),
]
ReceiverFile = Annotated[
    Path,
    typer.Argument(metavar="FILE", help="A receiver file (TOML), or the id of a shipped receiver.", show_default=False),
]
Port = Annotated[int, typer.Option(min=0, max=65535, help="Port of the page; 0 takes any that is free.")]
ReceiverFiles = Annotated[
    list[Path] | None,
    typer.Option("--receiver", metavar="FILE", help="Add a receiver file. May be given several times."),
]
LogLevel = Annotated[
    str, typer.Option("--log-level", help="What goes to the log: debug, info, warning or error, and what is graver.")
]
DEFAULT_PORT = 8470


LEVELS = ("debug", "info", "warning", "error")


def checked_level(level: str) -> str:
    """Give the level of the log that was asked for.

    Raises:
        OrderRefused: there is no such level.
    """
    if level not in LEVELS:
        raise OrderRefused(f"--log-level '{level}' is none; give {', '.join(LEVELS[:-1])} or {LEVELS[-1]}.")
    return level
