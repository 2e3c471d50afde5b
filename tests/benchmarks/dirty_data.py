"""Figures on dirty readings and on filters that are not in the book: held, withheld, doubted, or wrong in silence.

Run with: python -m tests.benchmarks.dirty_data [trials]

The first rows are sweeps that are fitted; those that begin with "scan" are whole scans of a simulated desk, with the
checks that a scan makes of its meter. Silent: more than three sigmas off, and no doubt that names a cause.
"""

import sys

import numpy as np
from rich.console import Console
from rich.table import Table

from tests.sequences.numerics.dirty_trials import CELLS, Tally, count, tally
from tests.sequences.procedures.sweeps.dirty_desk import DESKS, circuit, scanned

TRIALS = 300


def main() -> None:
    """Print the table."""
    trials = int(sys.argv[1]) if len(sys.argv) > 1 else TRIALS
    columns = ("case", "centre", "width", "withheld", "silent", "doubted", "most named")
    table = Table(*columns, title=f"95 % intervals on dirty readings, {trials} trials each")
    for name in CELLS:
        table.add_row(name, *_row(count(name, trials)))
    for number, (name, (settle_s, make)) in enumerate(DESKS.items()):
        results = [scanned(make(np.random.default_rng([trial, number])), settle_s) for trial in range(trials)]
        doubts = [tuple("scan" for _ in one.doubts) for one in results]
        table.add_row(name, *_row(tally([one.fit for one in results], circuit(), doubts)))
    Console(width=140).print(table)


def _row(found: Tally) -> tuple[str, ...]:
    def share(part: int, whole: int) -> str:
        return f"{100.0 * part / whole:.1f} %" if whole else "-"

    trials = found.trials
    return (
        share(found.centre, trials - found.no_centre),
        share(found.width, trials - found.no_width),
        f"{found.no_centre} / {found.no_width}",
        share(found.silent, trials),
        share(found.doubted, trials),
        ", ".join(name for name, _ in found.names[:2]),
    )


if __name__ == "__main__":
    main()
