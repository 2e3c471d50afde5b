"""The command line: one module a command. Heavy packages are imported by the command that needs them, not here."""

import typer

from server.cli.align import align
from server.cli.check import check
from server.cli.instruments import instruments
from server.cli.job import job_commands
from server.cli.practice import practice
from server.cli.report import report
from server.cli.scan import scan
from server.cli.serve import serve


def build_cli() -> typer.Typer:
    """Put the commands together."""
    cli = typer.Typer(
        name="peakwright",
        help="Aligns multi-conversion radio receivers with a signal generator, a frequency counter and a multimeter.",
        no_args_is_help=True,
        add_completion=False,
        pretty_exceptions_enable=False,
    )
    for command in (practice, serve, align, report, scan, check, instruments):
        cli.command()(command)
    cli.add_typer(job_commands())
    return cli
