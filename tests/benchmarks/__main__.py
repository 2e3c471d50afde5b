"""`python -m tests.benchmarks [NAME ...]`: run the benchmarks, all of them or those named. Each prints its ratios."""

import importlib
import pkgutil
import sys
from pathlib import Path

HERE = Path(__file__).parent


def main(wanted: list[str]) -> None:
    """Run each benchmark's `main`.

    Raises:
        SystemExit: a name is none of them.
    """
    names = sorted(module.name for module in pkgutil.iter_modules([str(HERE)]) if not module.name.startswith("_"))
    if unknown := set(wanted) - set(names):
        raise SystemExit(f"No benchmark is called {', '.join(sorted(unknown))}; there are {', '.join(names)}.")
    sys.argv = sys.argv[:1]  # a benchmark run by itself may take arguments of its own
    for name in wanted or names:
        print(f"\n{name}")  # noqa: T201 - a benchmark prints
        importlib.import_module(f"tests.benchmarks.{name}").main()


if __name__ == "__main__":
    main(sys.argv[1:])
