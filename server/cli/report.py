"""`peakwright report`: the report of a job as HTML and PDF."""

from pathlib import Path
from typing import Annotated

import typer

from server.cli.options import Store
from server.errors import OrderRefused


def report(
    job: Annotated[str, typer.Argument(metavar="JOB", help="The job's number.", show_default=False)],
    html: Annotated[Path | None, typer.Option(metavar="FILE", help="Write the HTML here.")] = None,
    pdf: Annotated[Path | None, typer.Option(metavar="FILE", help="Write the PDF here.")] = None,
    paper: Annotated[str, typer.Option(metavar="PAPER", help="Sheets of the PDF: a4 or letter.")] = "a4",
    practice: Annotated[bool, typer.Option("--practice", help="A job of the practice record.")] = False,
    store: Store = None,
) -> None:
    """Write the report of a job; without --html or --pdf both, named by date, receiver and job, where you are."""
    from server.report.files import ReportOrder, write_report  # noqa: PLC0415 - keeps the help quick

    if not job.isascii() or not job.isdecimal():
        raise OrderRefused(f"JOB is a number, not '{job}'; `peakwright job list` lists those there are.")
    order = ReportOrder(int(job), html, pdf, paper, "practice" if practice else "bench", store)
    for path in write_report(order):
        typer.echo(path)
