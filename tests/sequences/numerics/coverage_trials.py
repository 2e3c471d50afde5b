"""Trials that count how often an interval holds the truth, for the tests and for the full table of the benchmarks."""

from dataclasses import dataclass

import numpy as np

from sequences.numerics.figures import Estimate
from sequences.numerics.responses.passband import fit_passband
from tests.sequences.numerics.honest_truths import (
    chosen_readings,
    coupled_pair,
    equal_circuits,
    even_sweep,
    flat_top,
    skewed_pair,
)

TWO_SIDED_95 = 1.959963984540054
NOISES_DB = (0.05, 0.2, 0.5)
MODELS = {
    "single circuit": equal_circuits(1),
    "loose pair": coupled_pair(0.6),
    "critical pair": coupled_pair(1.0),
    "over-coupled pair": coupled_pair(2.0),
    "skewed pair": skewed_pair(1.5, 0.6, 1.8),
    "four equal circuits": equal_circuits(4),
    "flat-topped filter": flat_top(5, 0.2),
    "hardly skewed pair": skewed_pair(1.5, 0.4, 1.5),
}
"""Seven kinds, and one whose skew is at 0.5 dB one and a half of its own sigmas: not seen, not to be neglected."""


@dataclass(frozen=True, slots=True)
class Covered:
    """Of so many trials: how many intervals of centre and of width held the truth, and how many fits gave none."""

    trials: int
    centre: int
    width: int
    withheld: int


def count_covered(model: str, noise_db: float, trials: int) -> Covered:
    """Fit seeded sweeps of 61, 81 and 101 readings, every fourth one placed as a search would place its readings."""
    truth, number = MODELS[model], list(MODELS).index(model)
    centre = width = withheld = 0
    for trial in range(trials):
        dice = np.random.default_rng([trial, round(1000 * noise_db), number])
        if trial % 4 == 3:
            sweep = chosen_readings(truth, noise_db, dice)
        else:
            sweep = even_sweep(truth, noise_db, dice, readings=(61, 81, 101)[trial % 3])
        fit = fit_passband(sweep.frequency_hz, sweep.level_db)
        if fit.centre is None or fit.width_3db is None:
            withheld += 1
            continue
        centre += _holds(fit.centre, truth.centre_hz)
        width += _holds(fit.width_3db, truth.width_hz)
    return Covered(trials, centre, width, withheld)


def _holds(estimate: Estimate, truth: float) -> bool:
    return abs(estimate.value - truth) <= TWO_SIDED_95 * estimate.sigma
