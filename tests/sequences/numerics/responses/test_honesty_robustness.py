"""Pops, drift and lag: the centre is off by less than 2 % of the width, or a doubt names the cause."""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from sequences.numerics.figures import DoubtName
from sequences.numerics.responses.passband import fit_passband
from tests.sequences.numerics.honest_truths import Truth, coupled_pair, equal_circuits, flat_top
from tests.trials import trials

Array = NDArray[np.float64]

TRIALS = trials(200)
OFF_BY = 0.02
BY_CHANCE = {0.1: 0.0, 0.5: 4.0}
"""Noise in dB, and by how many of its sigmas the centre may be off: at 0.5 dB a sigma alone is 1 % of the width."""
TRUTHS = {
    "single circuit": equal_circuits(1),
    "critical pair": coupled_pair(1.0),
    "over-coupled pair": coupled_pair(2.0),
    "flat top": flat_top(4),
}


def upwards(truth: Truth, readings: int = 101) -> Array:
    """One way over five widths."""
    return truth.centre_hz + np.linspace(-2.5, 2.5, readings) * truth.width_hz


def from_side_to_side(truth: Truth, readings: int = 101) -> Array:
    """The same places, the two sides in turn, as a scan that chooses for itself reads them."""
    f = upwards(truth, readings)
    order = np.argsort(np.abs(f - truth.centre_hz), kind="stable")
    return f[order]


def popped(level_db: Array, dice: np.random.Generator) -> Array:
    """Throw 5 % of the readings off by 10 dB, up or down."""
    hit = dice.random(level_db.size) < 0.05
    return np.where(hit, level_db + dice.choice([-10.0, 10.0], level_db.size), level_db)


def drifted(level_db: Array, dice: np.random.Generator) -> Array:
    """Let the level drift 1 dB over the scan, up or down."""
    return np.asarray(level_db + dice.choice([-1.0, 1.0]) * np.linspace(0.0, 1.0, level_db.size))


def lagging(level_db: Array, _: np.random.Generator) -> Array:
    """Let each reading wait half the time to settle to 1 % (4.61 time constants): a tenth of the last is left."""
    left = np.exp(-4.61 / 2)
    shown = 10 ** (level_db / 20)
    for index in range(1, shown.size):
        shown[index] += left * (shown[index - 1] - shown[index])
    return np.asarray(20 * np.log10(shown))


def assert_right_or_named(
    truth: Truth,
    frequency_hz: Array,
    spoil: Callable[[Array, np.random.Generator], Array],
    cause: DoubtName,
    noise_db: float,
) -> None:
    """In each trial the centre is right, or a doubt names the cause."""
    for seed in range(TRIALS):
        dice = np.random.default_rng([11, seed])
        level_db = spoil(truth.level_db(frequency_hz), dice) + dice.normal(0, noise_db, frequency_hz.size)
        fit = fit_passband(frequency_hz, level_db)
        if cause in {doubt.name for doubt in fit.doubts}:
            continue
        if fit.centre is None:
            assert fit.doubts, f"seed {seed}: refused without a word"
            continue
        off_hz = abs(fit.centre.value - truth.centre_hz)
        allowed_hz = max(OFF_BY * truth.width_hz, BY_CHANCE[noise_db] * fit.centre.sigma)
        assert off_hz < allowed_hz, (
            f"seed {seed}: off by {off_hz / truth.width_hz:.1%} of the width, no word of {cause}"
        )


@pytest.mark.parametrize("noise_db", BY_CHANCE)
@pytest.mark.parametrize("name", TRUTHS)
def test_pops_are_left_out_or_named(name: str, noise_db: float) -> None:
    truth = TRUTHS[name]

    assert_right_or_named(truth, upwards(truth), popped, DoubtName.POPS, noise_db)


@pytest.mark.parametrize("noise_db", BY_CHANCE)
@pytest.mark.parametrize("order", [upwards, from_side_to_side])
@pytest.mark.parametrize("name", TRUTHS)
def test_a_level_that_drifts_is_allowed_for_or_named(
    name: str, order: Callable[[Truth], Array], noise_db: float
) -> None:
    truth = TRUTHS[name]

    assert_right_or_named(truth, order(truth), drifted, DoubtName.DRIFT, noise_db)


@pytest.mark.parametrize("noise_db", BY_CHANCE)
@pytest.mark.parametrize("name", TRUTHS)
def test_a_drift_is_not_feared_wherever_a_sweep_goes_one_way(name: str, noise_db: float) -> None:
    """A drift of 1 dB moves the centre of one circuit by 3.5 % of its width, of the others by 1 % at most."""
    truth = TRUTHS[name]
    frequency_hz = upwards(truth)
    named = 0
    for seed in range(TRIALS):
        level_db = truth.level_db(frequency_hz) + np.random.default_rng([12, seed]).normal(0, noise_db, 101)
        named += any(doubt.name is DoubtName.DRIFT for doubt in fit_passband(frequency_hz, level_db).doubts)

    assert named <= (0.45 if name == "single circuit" else 0.05) * TRIALS


@pytest.mark.parametrize("noise_db", BY_CHANCE)
@pytest.mark.parametrize("order", [upwards, from_side_to_side])
@pytest.mark.parametrize("name", TRUTHS)
def test_a_meter_that_lags_is_harmless_or_named(name: str, order: Callable[[Truth], Array], noise_db: float) -> None:
    truth = TRUTHS[name]

    assert_right_or_named(truth, order(truth), lagging, DoubtName.LAG, noise_db)
