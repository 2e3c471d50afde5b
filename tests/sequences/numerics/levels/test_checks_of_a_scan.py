"""The level step and the way back: their figures and their sigmas, each from its own arithmetic."""

import math

import numpy as np
import pytest

from sequences.numerics.figures import DoubtName, Estimate
from sequences.numerics.levels.level_step import LevelStep, judge_step
from sequences.numerics.levels.way_back import PLACES_OF_WIDTH, WayBack, compare, widen
from sequences.numerics.responses.passband import PassbandFit, fit_passband
from tests.published.responses import detuning_at, single_db

F0_HZ, Q, NOISE_DB = 455e3, 50.0, 0.05
WIDTH_HZ = F0_HZ / Q


def fitted(seed: int = 1) -> PassbandFit:
    f = np.linspace(F0_HZ - 2 * WIDTH_HZ, F0_HZ + 2 * WIDTH_HZ, 101)
    noise = np.random.default_rng(seed).normal(0, NOISE_DB, f.size)
    return fit_passband(f, single_db(detuning_at(f, F0_HZ, Q)) + noise)


def test_a_step_has_the_sigma_of_two_means() -> None:
    """u(a - b) = sqrt(s^2 / 3 + s^2 / 2) (JCGM 100:2008, 4.2.3 and 5.1.2)."""
    step = judge_step([0.0, 0.1, -0.1], [-3.0, -3.2], 0.12)
    assert step is not None
    assert step.seen_db == pytest.approx(3.1)
    assert step.sigma_db == pytest.approx(0.12 * math.sqrt(1 / 3 + 1 / 2))
    assert judge_step([], [-3.0], 0.1) is None


@pytest.mark.parametrize(
    ("seen_db", "sigma_db", "name"),
    [
        (3.0, 0.01, None),
        (3.09, 0.001, None),
        (3.3, 0.1, None),
        (3.4, 0.1, DoubtName.DETECTOR_LAW),
        (2.85, 0.01, DoubtName.DETECTOR_LAW),
        (0.7, 0.01, DoubtName.SATURATED),
        (6.0, 0.2, DoubtName.DETECTOR_LAW),
    ],
)
def test_a_law_is_wrong_only_where_the_step_surely_is(seen_db: float, sigma_db: float, name: DoubtName | None) -> None:
    doubt = LevelStep(seen_db, sigma_db).doubt()
    assert (None if doubt is None else doubt.name) == name


def test_a_shift_on_the_way_back_is_found_with_its_sigma() -> None:
    """The sigma against the scatter of 60 ways back; a level that has changed meanwhile does not count."""
    found, shift_hz = [], 0.03 * WIDTH_HZ
    for seed in range(60):
        fit = fitted(seed)
        assert fit.centre is not None
        assert fit.width_3db is not None
        f = fit.centre.value + PLACES_OF_WIDTH * fit.width_3db.value
        noise = np.random.default_rng([seed, 1]).normal(0, NOISE_DB, f.size)
        back = compare(fit, f, single_db(detuning_at(f - shift_hz, F0_HZ, Q)) + 0.4 + noise, 0.7)
        assert back is not None
        found.append(back)
    off = np.array([back.shift.value - shift_hz for back in found])
    sigma = float(np.median([back.shift.sigma for back in found]))
    assert abs(off.mean()) < 4 * sigma / math.sqrt(60)
    assert off.std() == pytest.approx(sigma, rel=0.3)
    assert all(back.is_apart for back in found)


def test_a_disagreement_widens_place_and_width_as_it_must() -> None:
    """Evenly between the two ways: 1 / sqrt(3); the width by what drifts while it is swept."""
    fit = fitted()
    wide = widen(fit, WayBack(Estimate(300.0, 10.0), elapsed=0.5), span_hz=4 * WIDTH_HZ)
    assert fit.centre is not None
    assert fit.width_3db is not None
    assert wide.centre is not None
    assert wide.width_3db is not None
    assert wide.centre.sigma == pytest.approx(math.hypot(fit.centre.sigma, 300 / math.sqrt(3)))
    drift_hz = 300 / 0.5 * fit.width_3db.value / (4 * WIDTH_HZ)
    assert wide.width_3db.sigma == pytest.approx(math.hypot(fit.width_3db.sigma, drift_hz))
