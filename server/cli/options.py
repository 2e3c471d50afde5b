"""Options that several commands share."""

from pathlib import Path
from typing import Annotated

import typer

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
DEFAULT_PORT = 8470
