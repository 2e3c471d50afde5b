"""Hopeless data are refused or doubted by name; no figure comes from outside the sweep; nothing is raised or warned."""

from collections.abc import Callable
from dataclasses import fields

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from sequences.numerics.figures import DoubtName, Estimate
from sequences.numerics.responses.passband import PassbandFit, fit_passband

Array = NDArray[np.float64]

F0_HZ, WIDTH_HZ = 455e3, 9.1e3
SEEDS = range(12)
EXAMPLES = 60

a_frequency_hz = st.one_of(
    st.floats(min_value=0.0, exclude_min=True),
    st.floats(1.0, 1e12),
    st.floats(F0_HZ - 10 * WIDTH_HZ, F0_HZ + 10 * WIDTH_HZ),
    st.integers(440, 470).map(lambda khz: 1e3 * khz),  # few of them, so that many are repeats
)
a_level_db = st.one_of(st.floats(), st.floats(-150.0, 20.0), st.sampled_from([0.0, -120.0]))
odd_readings = st.lists(st.tuples(a_frequency_hz, a_level_db), max_size=40)
odd_grids = st.builds(
    lambda start_hz, widen, levels_db: [(start_hz * widen**i, level_db) for i, level_db in enumerate(levels_db)],
    st.floats(1.0, 1e9),
    st.floats(1.0 + 1e-12, 2.0),
    st.lists(a_level_db, min_size=6, max_size=40),
)


def one_circuit_db(frequency_hz: Array, f0_hz: float = F0_HZ, q: float = 50.0) -> Array:
    """Give the universal resonance curve, -10 log10(1 + a^2): Terman (1943) section 3, from memory."""
    detuning = q * (frequency_hz / f0_hz - f0_hz / frequency_hz)
    level_db: Array = -10 * np.log10(1 + detuning**2)
    return level_db


def sweep(start_widths: float, stop_widths: float, readings: int = 81) -> Array:
    """Give frequencies from so many widths below the centre (negative) to so many above."""
    return np.linspace(F0_HZ + start_widths * WIDTH_HZ, F0_HZ + stop_widths * WIDTH_HZ, readings)


def noise_only(dice: np.random.Generator) -> tuple[Array, Array]:
    f = sweep(-2, 2)
    return f, -60 + dice.normal(0, 0.5, f.size)


def flat(dice: np.random.Generator) -> tuple[Array, Array]:
    f = sweep(-2, 2)
    return f, np.full(f.size, -20.0) + dice.normal(0, 0.01, f.size)


def upper_edge_cut_off(dice: np.random.Generator) -> tuple[Array, Array]:
    f = sweep(-3, 0.2)
    return f, one_circuit_db(f) + dice.normal(0, 0.1, f.size)


def only_a_skirt(dice: np.random.Generator) -> tuple[Array, Array]:
    f = sweep(1.0, 4.0)
    return f, one_circuit_db(f) + dice.normal(0, 0.1, f.size)


def two_far_apart_peaks(dice: np.random.Generator) -> tuple[Array, Array]:
    f = np.linspace(F0_HZ - 60e3, F0_HZ + 60e3, 161)
    power = 10 ** (one_circuit_db(f, F0_HZ - 30e3) / 10) + 10 ** (one_circuit_db(f, F0_HZ + 30e3) / 10)
    return f, 10 * np.log10(power) + dice.normal(0, 0.1, f.size)


def width_under_the_step(dice: np.random.Generator) -> tuple[Array, Array]:
    f = np.linspace(F0_HZ - 60e3, F0_HZ + 60e3, 41)
    return f, one_circuit_db(f, q=600.0) + dice.normal(0, 0.1, f.size)


Case = Callable[[np.random.Generator], tuple[Array, Array]]


def figures_of(fit: PassbandFit) -> dict[str, Estimate]:
    """Give the figures a fit dares to report."""
    values = {field.name: getattr(fit, field.name) for field in fields(fit)}
    return {name: value for name, value in values.items() if isinstance(value, Estimate)}


def named(fit: PassbandFit) -> set[DoubtName]:
    """Give the names of its doubts."""
    return {doubt.name for doubt in fit.doubts}


@pytest.mark.parametrize("case", [noise_only, flat, only_a_skirt])
@pytest.mark.parametrize("seed", SEEDS)
def test_what_shows_no_passband_gets_no_centre_and_no_width(case: Case, seed: int) -> None:
    fit = fit_passband(*case(np.random.default_rng(seed)))

    assert fit.centre is None
    assert fit.width_3db is None
    assert named(fit)


@pytest.mark.parametrize("seed", SEEDS)
def test_an_edge_cut_off_is_named_and_the_width_withheld(seed: int) -> None:
    fit = fit_passband(*upper_edge_cut_off(np.random.default_rng(seed)))

    assert fit.upper_3db is None
    assert fit.width_3db is None
    assert fit.centre is None
    assert DoubtName.EDGE_OUTSIDE in named(fit)


@pytest.mark.parametrize("seed", SEEDS)
def test_two_far_apart_peaks_are_named(seed: int) -> None:
    fit = fit_passband(*two_far_apart_peaks(np.random.default_rng(seed)))

    assert DoubtName.SECOND_PEAK in named(fit) or fit.centre is None
    assert named(fit)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_passband_narrower_than_the_step_is_doubted(seed: int) -> None:
    fit = fit_passband(*width_under_the_step(np.random.default_rng(seed)))

    assert named(fit) & {DoubtName.WIDTH_UNDER_STEP, DoubtName.TOO_FEW_READINGS, DoubtName.NO_RISE, DoubtName.POPS}


@pytest.mark.parametrize("count", [0, 1, 2, 5])
def test_a_handful_of_readings_is_too_few(count: int) -> None:
    f = sweep(-1, 1, 5)[:count]
    fit = fit_passband(f, one_circuit_db(f))

    assert figures_of(fit) == {}
    assert DoubtName.TOO_FEW_READINGS in named(fit)


def test_readings_that_are_not_numbers_are_left_out_and_named() -> None:
    f = sweep(-2, 2)
    level = one_circuit_db(f) + np.random.default_rng(1).normal(0, 0.1, f.size)
    level[[3, 40, 77]] = [np.nan, np.inf, -np.inf]

    fit = fit_passband(f, level)

    assert DoubtName.NOT_A_NUMBER in named(fit)
    assert fit.centre is not None
    assert abs(fit.centre.value - (F0_HZ + 22.75)) < 4 * fit.centre.sigma
    all_bad = fit_passband(f, np.full(f.size, np.nan))
    assert figures_of(all_bad) == {}
    assert named(all_bad)


@pytest.mark.parametrize("shift_widths", [-2.4, -1.5, -0.4, 0.0, 0.4, 1.5, 2.4])
@pytest.mark.parametrize("seed", range(4))
def test_no_frequency_ever_comes_from_outside_the_sweep(shift_widths: float, seed: int) -> None:
    f = sweep(-2, 2)
    level = one_circuit_db(f, F0_HZ + shift_widths * WIDTH_HZ) + np.random.default_rng(seed).normal(0, 0.3, f.size)

    found = figures_of(fit_passband(f, level))

    for name in ("peak", "centre", "lower_3db", "upper_3db"):
        assert name not in found or f[0] <= found[name].value <= f[-1], name
    for name in ("width_3db", "width_6db", "width_60db"):
        assert name not in found or found[name].value <= f[-1] - f[0], name


@settings(max_examples=EXAMPLES)
@given(st.one_of(odd_readings, odd_grids))
@example([(1e5 * 1.3**i, -120.0 if i % 5 == 2 else 0.0) for i in range(40)])
@example([(10.0 ** (20 * i - 290), float(i % 7)) for i in range(30)])
@example([(F0_HZ * (1 + 1e-15 * i), -float(i % 4)) for i in range(30)])
def test_whatever_is_read_is_fitted_or_doubted_and_no_figure_comes_from_outside(
    pairs: list[tuple[float, float]],
) -> None:
    f = np.array([frequency_hz for frequency_hz, _ in pairs])
    read = np.isfinite(f) & np.isfinite([level_db for _, level_db in pairs])

    fit = fit_passband(f, [level_db for _, level_db in pairs])

    found = figures_of(fit)
    assert "centre" in found or named(fit)
    for name in ("peak", "centre", "lower_3db", "upper_3db"):
        assert name not in found or f[read].min() <= found[name].value <= f[read].max(), name
    for name in ("width_3db", "width_6db", "width_60db"):
        assert name not in found or 0.0 <= found[name].value <= np.ptp(f[read]), name


def test_arrays_that_do_not_match_are_a_mistake_of_the_caller() -> None:
    with pytest.raises(ValueError, match="length"):
        fit_passband([1.0, 2.0, 3.0], [0.0, 0.0])
