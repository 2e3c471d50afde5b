"""Noise that is even in volts, seen in dB: deep readings count for less, and even noise in dB is left alone."""

import numpy as np
import pytest
from scipy.stats import binom

from sequences.numerics.responses.analysis import analyse
from sequences.numerics.responses.passband import fit_passband
from sequences.numerics.responses.readings import prepare
from sequences.numerics.responses.volt_noise import shown_by
from sequences.numerics.search.next_reading import Measure, ScanGoal, begin, choose, current_fit, observe
from tests.sequences.numerics.honest_truths import Array, Truth, coupled_pair, equal_circuits, flat_top
from tests.trials import trials

TWO_SIDED_95 = 1.959963984540054
VOLT_NOISE = 0.003
"""Of the voltage at the top: 0.03 dB there, 3 dB forty dB down."""

TRUTHS = {"single circuit": equal_circuits(1), "pair": coupled_pair(1.0), "four equal circuits": equal_circuits(4)}


def sweep(truth: Truth) -> Array:
    return truth.centre_hz + np.linspace(-2.5, 2.5, 101) * truth.width_hz


def read_linearly(truth: Truth, frequency_hz: Array, seed: int, volt_noise: float = VOLT_NOISE) -> Array:
    """A linear detector's voltage with even noise, as dB under the top: 20 log10 |V|."""
    level_db = truth.level_db(frequency_hz)
    volts = 10 ** ((level_db - level_db.max()) / 20)
    volts = volts + volt_noise * np.random.default_rng([41, seed]).standard_normal(volts.size)
    return np.asarray(20 * np.log10(np.abs(volts)))


def test_readings_far_down_count_for_as_much_less_as_their_noise_is_more() -> None:
    truth = TRUTHS["pair"]
    frequency_hz = sweep(truth)
    slopes = []
    for seed in range(trials(40)):
        readings = prepare(frequency_hz, read_linearly(truth, frequency_hz, seed))
        best = analyse(readings).best
        noise = shown_by(readings, best)
        if noise is not None:
            weighted = noise.weigh(readings, best.curve.level_db(best.parameters, frequency_hz))
            nepers = truth.level_db(weighted.frequency_hz) * np.log(10) / 20
            slopes.append(np.polyfit(nepers, np.log(weighted.weight), 1)[0])

    assert len(slopes) >= 0.75 * trials(40)
    assert np.mean(slopes) == pytest.approx(1.0, abs=0.2)


@pytest.mark.parametrize("seed", range(trials(30)))
def test_noise_that_is_even_in_decibels_is_left_as_it_is(seed: int) -> None:
    truth = TRUTHS["pair"]
    frequency_hz = sweep(truth)
    level_db = truth.level_db(frequency_hz) + np.random.default_rng([42, seed]).normal(0, 0.2, frequency_hz.size)
    readings = prepare(frequency_hz, level_db)

    assert shown_by(readings, analyse(readings).best) is None


@pytest.mark.parametrize("name", TRUTHS)
def test_a_linear_detectors_sweep_gives_the_centre_to_a_part_in_a_thousand_of_the_width(name: str) -> None:
    """One sigma; without weights four equal circuits were off by up to 7 % of the width."""
    truth = TRUTHS[name]
    frequency_hz = sweep(truth)
    off = []
    for seed in range(trials(30)):
        fit = fit_passband(frequency_hz, read_linearly(truth, frequency_hz, seed))
        assert fit.centre is not None, fit.doubts
        off.append((fit.centre.value - truth.centre_hz) / truth.width_hz)
    assert float(np.sqrt(np.mean(np.square(off)))) < 0.002
    assert np.max(np.abs(off)) < 0.01


def test_the_skirts_that_drown_tell_the_noise_of_a_steep_filters_sweep() -> None:
    """A hundredth of the top's voltage; a true share of 90 % gives fewer in one of a thousand cases."""
    truth = flat_top(5, 0.2)
    frequency_hz = sweep(truth)
    made = trials(60)
    held = 0
    for seed in range(made):
        fit = fit_passband(frequency_hz, read_linearly(truth, frequency_hz, seed, 0.01))
        assert fit.centre is not None, fit.doubts
        held += abs(fit.centre.value - truth.centre_hz) < TWO_SIDED_95 * fit.centre.sigma

    assert held >= binom.ppf(1e-3, made, 0.90)


def test_a_scan_that_chooses_its_frequencies_weighs_by_the_noise_too() -> None:
    """Few of its readings show a steep filter; without weights its intervals held the centre two times in three."""
    truth = flat_top(5, 0.2)
    made = trials(40)
    held = 0
    for seed in range(made):
        dice = np.random.default_rng([43, seed])
        span_hz = truth.width_hz * dice.uniform(5.0, 12.0)
        middle_hz = truth.centre_hz + dice.uniform(-0.15, 0.15) * span_hz
        search = begin(ScanGoal(middle_hz - span_hz / 2, middle_hz + span_hz / 2, 0.01, 0.02, 400))
        while isinstance(move := choose(search), Measure):
            volts = 10 ** (truth.level_db(np.array([move.frequency_hz]))[0] / 20) + 0.01 * dice.standard_normal()
            search = observe(search, move.frequency_hz, float(20 * np.log10(abs(volts))))
        fit = current_fit(search)
        assert fit is not None
        assert fit.centre is not None, fit.doubts
        held += abs(fit.centre.value - truth.centre_hz) < TWO_SIDED_95 * fit.centre.sigma

    assert held >= binom.ppf(1e-3, made, 0.90)
