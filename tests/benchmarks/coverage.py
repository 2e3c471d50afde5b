"""How often intervals of 95 % hold the truth: seven models and a hidden skew, three noises.

Run with: python -m tests.benchmarks.coverage [trials]

Each sweep has 61 to 101 readings over four to six widths; every fourth is placed as a search would place its readings.
2,000 trials show a share of 95 % to 0.5 % (one sigma).
"""

import sys
from concurrent.futures import ProcessPoolExecutor
from itertools import product
from multiprocessing import get_context

from rich.console import Console
from rich.table import Table

from tests.sequences.numerics.coverage_trials import MODELS, NOISES_DB, count_covered

TRIALS = 2000


def main() -> None:
    """Print the table."""
    trials = int(sys.argv[1]) if len(sys.argv) > 1 else TRIALS
    cells = list(product(MODELS, NOISES_DB))
    with ProcessPoolExecutor(mp_context=get_context("spawn")) as pool:
        found = list(pool.map(count_covered, *zip(*cells, strict=True), [trials] * len(cells)))
    table = Table("model", "noise", "centre", "width", "withheld", title=f"95 % intervals, {trials} trials each")
    for (model, noise_db), each in zip(cells, found, strict=True):
        given = max(each.trials - each.withheld, 1)
        shares = (f"{100.0 * held / given:.1f} %" for held in (each.centre, each.width))
        table.add_row(model, f"{noise_db:g} dB", *shares, str(each.withheld))
    Console(width=100).print(table)


if __name__ == "__main__":
    main()
