"""How often intervals from few repeats, bent travels and warm-ups hold the truth. Formulas of its own, seeded.

Run with: python -m tests.benchmarks.decisions [trials, 300]
"""

import sys
from collections.abc import Callable

import numpy as np
from rich.console import Console
from rich.table import Table

from sequences.numerics.adjusters.step_and_fit import fit_steps
from sequences.numerics.figures import Estimate, mean_of
from sequences.numerics.oscillators.drift import drift_rate
from sequences.numerics.oscillators.warming import still_to_come

TRIALS = 300
Trial = Callable[[np.random.Generator], tuple[Estimate | None, float]]


def a_mean(repeats: int) -> Trial:
    """The mean of so many counts that scatter by 3 Hz."""
    return lambda dice: (mean_of(list(dice.normal(7.0, 3.0, repeats)), 0.1).for_few_repeats(), 7.0)


def a_rate(counts: int) -> Trial:
    """The drift of so many counts, half a minute apart, that scatter by 3 Hz about 2 Hz a minute."""
    time_s = 30.0 * np.arange(counts)
    return lambda dice: (drift_rate(time_s, 2.0 * time_s / 60.0 + dice.normal(0.0, 3.0, counts), 0.4), 2.0)


def a_peak(bend: float) -> Trial:
    """The peak of twelve nudges, each worth so much more than the last, with 0.05 dB of noise."""

    def trial(dice: np.random.Generator) -> tuple[Estimate | None, float]:
        position, peak, width = np.arange(13.0), dice.uniform(4.0, 8.0), dice.uniform(2.0, 4.0)
        travel, at_peak = position + 0.5 * bend * position**2, peak + 0.5 * bend * peak**2
        level = -10.0 * np.log10(1.0 + ((travel - at_peak) / (width * (1.0 + bend * peak))) ** 2)
        return fit_steps(position, level + dice.normal(0.0, 0.05, 13), 0.05).peak_position, float(peak)

    return trial


def a_warm_up(flows: int) -> Trial:
    """What is to come once the drift is below 5 Hz a minute, of one flow of heat or two."""

    def trial(dice: np.random.Generator) -> tuple[Estimate | None, float]:
        heats = [(dice.uniform(300.0, 1000.0), dice.uniform(4.0, 12.0))]
        heats += [(dice.uniform(100.0, 500.0), dice.uniform(30.0, 90.0))] if flows > 1 else []
        minutes = np.arange(0.0, 60.1, 0.5)
        parts = np.array([hertz * np.exp(-minutes / constant) for hertz, constant in heats])
        rate = np.sum(parts / np.array([[constant] for _, constant in heats]), axis=0)
        count = min(int(np.argmax(rate < 5.0)) if (rate < 5.0).any() else len(minutes), len(minutes) - 2) + 2
        course = parts.sum(axis=0)[:count]
        return still_to_come(60.0 * minutes[:count], course + dice.normal(0.0, 0.41, count), 0.41), float(course[-1])

    return trial


CELLS: dict[str, Trial] = {
    **{f"mean of {count} counts": a_mean(count) for count in (2, 3, 4)},
    **{f"drift rate of {count} counts": a_rate(count) for count in (3, 4, 5)},
    **{f"step and fit, travel bent by {bend:.0%} a nudge": a_peak(bend) for bend in (0.0, 0.02)},
    **{f"warm-up, time constants: {flows}": a_warm_up(flows) for flows in (1, 2)},
}


def main() -> None:
    """Print for each cell how many intervals hold the truth, how many are over 3 sigma off, how many are withheld."""
    trials = int(sys.argv[1]) if len(sys.argv) > 1 else TRIALS
    table = Table("figure", "95 % intervals hold", "over 3 sigma off", "withheld", title=f"{trials} trials a cell")
    for number, (name, trial) in enumerate(CELLS.items()):
        told = [trial(np.random.default_rng([number, one])) for one in range(trials)]
        off = np.array([abs(figure.value - truth) / figure.sigma for figure, truth in told if figure is not None])
        shares = (np.mean(off <= 1.96), np.mean(off > 3.0), 1.0 - len(off) / trials)
        table.add_row(name, *(f"{100.0 * share:.1f} %" for share in shares))
    Console(width=110).print(table)


if __name__ == "__main__":
    main()
