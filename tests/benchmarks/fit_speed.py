"""How long a fit of all kinds of curve takes, against one curve fitted by a general-purpose library, in the same run.

Run with: python -m tests.benchmarks.fit_speed [rounds]

201 readings of one tuned circuit with 0.1 dB noise. lmfit fits a single Lorentzian in dB, started sensibly: from the
highest reading and the width of what lies within 3 dB of it. Both are timed turn by turn, so that a busy machine is as
unkind to one as to the other.
"""

import sys
import time

import lmfit
import numpy as np
from numpy.typing import NDArray
from rich.console import Console
from rich.table import Table

from sequences.numerics.passband import fit_passband

Array = NDArray[np.float64]

READINGS = 201
CENTRE_HZ, WIDTH_HZ, NOISE_DB = 455e3, 12e3, 0.1
ROUNDS = 200


def lorentzian_db(frequency_hz: Array, centre_hz: float, width_hz: float, peak_db: float) -> Array:
    """A single circuit in the narrow band, as it is commonly fitted."""
    return np.asarray(peak_db - 10.0 * np.log10(1.0 + (2.0 * (frequency_hz - centre_hz) / width_hz) ** 2))


def readings(seed: int) -> tuple[Array, Array]:
    """One sweep over five widths."""
    frequency_hz = CENTRE_HZ + WIDTH_HZ * np.linspace(-2.5, 2.5, READINGS)
    x = CENTRE_HZ / WIDTH_HZ * (frequency_hz / CENTRE_HZ - CENTRE_HZ / frequency_hz)
    noise_db = NOISE_DB * np.random.default_rng(seed).standard_normal(READINGS)
    return frequency_hz, -10.0 * np.log10(1.0 + 4.0 * x * x) + noise_db


def fit_one_kind(frequency_hz: Array, level_db: Array) -> None:
    """Fit the Lorentzian with lmfit."""
    top = int(np.argmax(level_db))
    within = frequency_hz[level_db > level_db[top] - 3.0]
    lmfit.Model(lorentzian_db).fit(
        level_db,
        frequency_hz=frequency_hz,
        centre_hz=float(frequency_hz[top]),
        width_hz=float(np.ptp(within)),
        peak_db=float(level_db[top]),
    )


def fit_all_kinds(frequency_hz: Array, level_db: Array) -> None:
    """Fit with this project."""
    fit_passband(frequency_hz, level_db)


def medians_s(rounds: int) -> tuple[float, float]:
    """Median seconds of all kinds and of one kind, timed in turn."""
    ways = (fit_all_kinds, fit_one_kind)
    spent = np.empty((rounds + 1, 2))
    for index in range(rounds + 1):
        frequency_hz, level_db = readings(index)
        for column in (index % 2, 1 - index % 2):
            start = time.perf_counter()
            ways[column](frequency_hz, level_db)
            spent[index, column] = time.perf_counter() - start
    ours, one = np.median(spent[1:], axis=0)  # the first round also pays for what is loaded on first use
    return float(ours), float(one)


def main() -> None:
    """Print the table."""
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else ROUNDS
    ours, one = medians_s(rounds)
    table = Table("fit", "median", "ratio", title=f"one fit of {READINGS} readings, {rounds} rounds")
    table.add_row("all kinds compared", f"{1e3 * ours:.2f} ms", "1")
    table.add_row("lmfit, one Lorentzian in dB", f"{1e3 * one:.2f} ms", f"{one / ours:.2f}")
    Console(width=100).print(table)


if __name__ == "__main__":
    main()
