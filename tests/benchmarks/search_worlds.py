"""Search random worlds and count exceptions: whatever is there, a search ends within its budget and raises nothing.

Run with: python -m tests.benchmarks.search_worlds [worlds, 10000] [processes, 2]
"""

import sys
import warnings
from collections import Counter
from concurrent.futures import ProcessPoolExecutor

from rich.console import Console

from tests.sequences.numerics.search_worlds import searched

WORLDS, PROCESSES, PART = 10_000, 2, 50
SHOWN = 10


def main() -> None:
    """Print how many worlds there were, how each kind of search ended, and what went wrong with its seeds."""
    worlds = int(sys.argv[1]) if len(sys.argv) > 1 else WORLDS
    processes = int(sys.argv[2]) if len(sys.argv) > 2 else PROCESSES
    console = Console(width=110)
    ends: Counter[str] = Counter()
    with ProcessPoolExecutor(processes) as pool:
        for part in pool.map(_ends, range(0, worlds, PART)):
            ends += part
    for end, count in ends.most_common(SHOWN):
        console.print(f"{count:6d} {end}")
    raised = sum(count for end, count in ends.items() if end.startswith("raised"))
    console.print(f"{worlds} worlds, {raised} exceptions")


def _ends(first: int) -> Counter[str]:
    warnings.simplefilter("error")
    ends: Counter[str] = Counter()
    for seed in range(first, first + PART):
        try:
            fit = searched(seed).fit
        except Exception as error:  # noqa: BLE001 - whatever it is, it is counted
            ends[f"raised {type(error).__name__}: {error} (world {seed})"] += 1
        else:
            ends["a centre" if fit is not None and fit.centre is not None else "no centre"] += 1
    return ends


if __name__ == "__main__":
    main()
