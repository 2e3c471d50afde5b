"""Scans that choose their own frequencies over four-circuit filters that ngspice solved, read with noise.

Such a scan leaves few readings, and a filter whose circuits are each a little off is like no simple kind of curve: what
the readings leave open must be in the stated uncertainty.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np
import pytest
from scipy.stats import binom

from sequences.numerics.search.next_reading import ScanGoal, current_fit
from tests.published.spice import POINTS_DENSE, Tank, chain, landmarks, solve
from tests.sequences.numerics.search_truths import Meter, Truth, run
from tests.trials import trials

LAST_IF_HZ = 60e3
NOISE_DB = 0.05
NO_FLOOR_DB = -200.0
SEEDS = trials(24)
TWO_SIDED_95 = 1.959963984540054


def circuits(offs_hz: tuple[float, ...], qs: tuple[float, ...], couplings: tuple[float, ...]) -> str:
    """Give the netlist of four coupled tanks, each off the last IF by so much."""
    return chain([Tank(LAST_IF_HZ + off_hz, q) for off_hz, q in zip(offs_hz, qs, strict=True)], couplings)


FILTERS = {
    "all in tune": (circuits((0, 0, 0, 0), (30, 200, 200, 30), (0.0252, 0.0162, 0.0252)), 1.83e3),
    "two of them off": (circuits((0, 200, -100, 0), (30, 200, 200, 30), (0.0252, 0.0162, 0.0252)), 1.85e3),
    "all of them off": (circuits((60, -50, 40, -80), (30, 200, 200, 35), (0.0252, 0.0162, 0.0252)), 1.88e3),
    "narrow": (circuits((0, 0, 0, 0), (110, 400, 400, 110), (0.0069, 0.0044, 0.0069)), 486.0),
    "loosely coupled": (circuits((0, 30, -30, 0), (90, 90, 90, 90), (0.008, 0.008, 0.008)), 534.0),
}
"""Each with its 3 dB width, roughly."""


@dataclass(frozen=True, slots=True)
class Scans:
    """Errors of centre and width over their stated sigmas, shape (seeds, 2); the centre's in widths; readings taken."""

    pulls: np.ndarray
    centre_off: np.ndarray
    readings: np.ndarray


@cache
def solved(ngspice: str, name: str) -> Truth:
    netlist, width_hz = FILTERS[name]
    start_hz, stop_hz = LAST_IF_HZ - 8 * width_hz, LAST_IF_HZ + 8 * width_hz
    frequency_hz, level_db = solve(ngspice, netlist, start_hz, stop_hz, POINTS_DENSE)
    marks = landmarks(frequency_hz, level_db)

    def level(hz: float) -> float:
        return float(np.interp(hz, frequency_hz, level_db - level_db.max()))

    return Truth(level, marks.centre_hz, marks.width_3db_hz)


@cache
def scans(ngspice: str, name: str) -> Scans:
    truth = solved(ngspice, name)
    found = []
    for seed in range(SEEDS):
        dice = np.random.default_rng([31, seed])
        span_hz = truth.width_hz * dice.uniform(5.0, 12.0)
        middle_hz = truth.centre_hz + dice.uniform(-0.15, 0.15) * span_hz
        goal = ScanGoal(middle_hz - span_hz / 2, middle_hz + span_hz / 2, 0.01, 0.02, 400)
        scanned = run(goal, Meter(truth, NOISE_DB, NO_FLOOR_DB), seed)
        fit = current_fit(scanned.search)
        assert fit is not None
        assert fit.centre is not None, fit.doubts
        assert fit.width_3db is not None, fit.doubts
        off_hz = fit.centre.value - truth.centre_hz
        width_off_hz = fit.width_3db.value - truth.width_hz
        found.append(
            (
                off_hz / fit.centre.sigma,
                width_off_hz / fit.width_3db.sigma,
                off_hz / truth.width_hz,
                len(scanned.frequency_hz),
            )
        )
    columns = np.array(found)
    return Scans(columns[:, :2], columns[:, 2], columns[:, 3])


@pytest.mark.parametrize("name", FILTERS)
def test_the_centre_of_a_filter_is_found_in_some_forty_readings(name: str, ngspice: str) -> None:
    """Within half a percent of the width, whatever kind of curve was made of it."""
    found = scans(ngspice, name)

    assert np.max(np.abs(found.centre_off)) < 0.005
    assert np.max(found.readings) <= 45


def test_the_stated_uncertainty_holds_the_truth_of_filters_as_often_as_it_says(ngspice: str) -> None:
    """All filters together: a true share of 90 % gives fewer in one of a thousand cases."""
    pulls = np.concatenate([scans(ngspice, name).pulls for name in FILTERS])
    held = np.count_nonzero(np.abs(pulls) < TWO_SIDED_95, axis=0)

    assert np.all(held >= binom.ppf(1e-3, len(pulls), 0.90)), held / len(pulls)
