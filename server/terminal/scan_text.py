"""A scan's result as a table for a terminal."""

import io
import math

from rich.table import Table

from sequences.numerics.figures import Estimate
from sequences.procedures.sweeps.scan import ScanResult
from server.terminal.console import HarmlessConsole

WIDTH_COLUMNS = 78


def scan_table(result: ScanResult) -> str:
    """Lay out the figures, each with half its 95 % interval, then the doubts."""
    fit = result.fit
    table = Table(box=None, pad_edge=False)
    table.add_column("figure")
    table.add_column("value", justify="right")
    table.add_column("± (95 %)", justify="right")
    for name, estimate, unit in (
        ("peak", fit.peak, "Hz"),
        ("centre", fit.centre, "Hz"),
        ("3 dB width", fit.width_3db, "Hz"),
        ("6 dB width", fit.width_6db, "Hz"),
        ("60 dB width", fit.width_60db, "Hz"),
        ("loaded Q", fit.loaded_q, ""),
        ("coupling kQ", fit.coupling, ""),
        ("skew", fit.skew, ""),
        ("ripple", fit.ripple, "dB"),
    ):
        if estimate is not None:
            table.add_row(name, *_cells(estimate, unit))
    text = io.StringIO()
    console = HarmlessConsole(file=text, width=WIDTH_COLUMNS, highlight=False)
    console.print(table)
    console.print(f"model: {fit.model}; {result.readings} readings, noise {fit.noise_db:.2g} dB", markup=False)
    for doubt in result.doubts:
        console.print(f"doubt: {doubt}", markup=False)
    return text.getvalue().rstrip()


def _cells(estimate: Estimate, unit: str) -> tuple[str, str]:
    """Write a value and half its 95 % interval with the digits the latter deserves: two of its own."""
    decimals = 3
    if estimate.sigma > 0 and math.isfinite(estimate.sigma):
        decimals = min(6, max(0, 1 - math.floor(math.log10(estimate.expanded))))
    suffix = f" {unit}" if unit else ""
    return f"{estimate.value:,.{decimals}f}{suffix}".replace(",", " "), f"{estimate.expanded:.{decimals}f}{suffix}"
