"""The command line: one module a command. Heavy packages are imported by the command that needs them, not here."""

from typing import Annotated

import typer

from server.cli.align import align
from server.cli.check import check
from server.cli.doctor import doctor
from server.cli.instruments import instruments
from server.cli.job import job_commands
from server.cli.listen import listen
from server.cli.practice import practice
from server.cli.report import report
from server.cli.scan import scan
from server.cli.serve import serve
from server.cli.wire_options import Visa, WireTrace, WireTraceUnmasked, prepare_wire


def _say_version(asked: bool) -> None:
    if asked:
        from importlib.metadata import version  # noqa: PLC0415 - keeps the help quick

        typer.echo(f"peakwright {version('peakwright')}")
        raise typer.Exit


def build_cli() -> typer.Typer:
    """Put the commands together."""
    cli = typer.Typer(
        name="peakwright",
        help="Aligns multi-conversion radio receivers with a signal generator, a frequency counter and a multimeter.",
        no_args_is_help=True,
        add_completion=False,
        pretty_exceptions_enable=False,
    )
    cli.callback()(_about_all)
    for command in (practice, serve, align, report, scan, listen, check, instruments, doctor):
        cli.command()(command)
    cli.add_typer(job_commands())
    return cli


def _about_all(
    *,
    version: Annotated[  # noqa: ARG001 - its callback does it
        bool, typer.Option("--version", help="Say which version this is.", is_eager=True, callback=_say_version)
    ] = False,
    visa: Visa = "",
    wire_trace: WireTrace = None,
    wire_trace_unmasked: WireTraceUnmasked = False,
) -> None:
    """Hold the options that stand before a command; each does its own."""
    prepare_wire(visa, wire_trace, unmasked=wire_trace_unmasked)
