"""`peakwright job`: the jobs of the record, and a whole job as one file."""

import sys
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from server.cli.options import Store
from server.errors import ArchiveRefused, OrderRefused

if TYPE_CHECKING:
    from collections.abc import Generator

    from server.records.store import Store as Record

Number = Annotated[str, typer.Argument(metavar="JOB", help="The job's number.", show_default=False)]
File = Annotated[Path, typer.Argument(metavar="FILE.zip", help="The file of the job.", show_default=False)]
Practice = Annotated[bool, typer.Option("--practice", help="In the practice record.")]


WIDE = 160
"""Columns where the output is no terminal."""


def job_commands() -> typer.Typer:
    """Put the commands of `peakwright job` together."""
    commands = typer.Typer(
        name="job",
        help="List the jobs of the record; write one to a file, or take one in.",
        no_args_is_help=True,
    )
    commands.command("list")(list_jobs)
    commands.command("export")(export)
    commands.command("import")(import_)
    commands.command("free")(free)
    return commands


def list_jobs(
    receiver: Annotated[str | None, typer.Option(metavar="ID", help="Of this receiver.")] = None,
    text: Annotated[
        str | None, typer.Option(help="With these words in what is said of the job, or in a remark.")
    ] = None,
    step: Annotated[str | None, typer.Option(metavar="ID", help="In which this step was done.")] = None,
    verdict: Annotated[
        str | None,
        typer.Option(help="With a step that came to this: leave, adjust, suspect, off, unmeasured, and so on."),
    ] = None,
    since: Annotated[str | None, typer.Option(metavar="DAY", help="Begun on this day or later.")] = None,
    until: Annotated[str | None, typer.Option(metavar="DAY", help="Begun on this day or earlier.")] = None,
    practice: Practice = False,
    store: Store = None,
) -> None:
    """List jobs, newest first."""
    with _record(store, practice=practice) as record:
        jobs = record.jobs(
            receiver_id=receiver, text=text, step=step, verdict=verdict, since_utc=since, until_utc=until
        )
    if not jobs:
        typer.echo("There is no such job.")
        return
    from server.cli.job_table import jobs_table  # noqa: PLC0415 - the same
    from server.terminal.console import HarmlessConsole  # noqa: PLC0415 - keeps the help quick

    HarmlessConsole(width=None if sys.stdout.isatty() else WIDE).print(jobs_table(jobs))


def export(job: Number, file: File, practice: Practice = False, store: Store = None) -> None:
    """Write a whole job into one file; an existing file is not overwritten."""
    number = _number(job)
    with _record(store, practice=practice) as record:
        from server.records.job_export import export_job  # noqa: PLC0415 - keeps the help quick

        record.job_header(number)
        try:
            with file.open("xb") as opened:
                export_job(record, number, opened)
        except FileExistsError:
            raise ArchiveRefused(f"{file} exists already; give the name of a new file.") from None
        except OSError as error:
            raise ArchiveRefused(f"{file} cannot be written ({error.strerror}).") from error
    typer.echo(file)


def import_(file: File, practice: Practice = False, store: Store = None) -> None:
    """Take a job into the record from a file."""
    with _record(store, practice=practice) as record:
        from server.records.job_import import import_job  # noqa: PLC0415 - keeps the help quick

        try:
            with file.open("rb") as opened:
                number = import_job(record, opened)
        except OSError as error:
            raise ArchiveRefused(f"{file} cannot be read ({error.strerror}).") from error
    typer.echo(f"It is job {number} here.")


def free(job: Number, practice: Practice = False, store: Store = None) -> None:
    """Free a job from a program on another machine that will not come back to it."""
    with _record(store, practice=practice) as record:
        record.free(_number(job))
    typer.echo(f"Job {job} is in nobody's hands.")


@contextmanager
def _record(where: str | None, *, practice: bool) -> "Generator[Record]":
    from server.records.store import Store as Record  # noqa: PLC0415 - keeps the help quick
    from server.settings import default_store_path  # noqa: PLC0415 - the same

    record = Record(where or default_store_path("practice" if practice else "bench"))
    try:
        yield record
    finally:
        record.close()


def _number(text: str) -> int:
    if not text.isascii() or not text.isdecimal():
        raise OrderRefused(f"JOB is a number, not '{text}'; `peakwright job list` lists those there are.")
    return int(text)
