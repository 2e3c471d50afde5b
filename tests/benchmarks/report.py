"""How long the report of a typical job takes: a whole alignment of a practice receiver, done for this."""

import statistics
import subprocess
import tempfile
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

from server.records.store import Store
from server.report.html import html_report
from server.report.pdf import Paper, pdf_report
from server.report.report import make_report
from tests.bench.command_line import PROGRAM

ROUNDS = 21
NOW = datetime(2026, 11, 25, tzinfo=UTC)
ALIGN = ("align", "skerry-7", "--practice", "--unattended", "--seed", "4", "--speed", "2000")


def main() -> None:
    """Print medians in milliseconds: content and HTML together, and the PDF besides."""
    with tempfile.TemporaryDirectory() as folder:
        place = Path(folder) / "record.sqlite"
        subprocess.run([PROGRAM, *ALIGN, "--store", str(place)], check=True, stdout=subprocess.DEVNULL)
        store = Store(place)
        try:
            runs = store.job(1)["runs"]
            print(f"a job of {len(runs)} runs and {sum(run['readings'] for run in runs)} readings")  # noqa: T201 - a benchmark prints
            _print("content and HTML", lambda: html_report(make_report(store, 1, NOW)))
            report = make_report(store, 1, NOW)
        finally:
            store.close()
    _print("PDF from the content", lambda: pdf_report(report, Paper.A4, NOW))


def _print(name: str, work: Callable[[], object]) -> None:
    times_ms = []
    for _ in range(ROUNDS):
        began = time.perf_counter()
        work()
        times_ms.append(1e3 * (time.perf_counter() - began))
    print(f"{name}: median {statistics.median(times_ms):.0f} ms, slowest {max(times_ms):.0f} ms")  # noqa: T201 - the same


if __name__ == "__main__":
    main()
