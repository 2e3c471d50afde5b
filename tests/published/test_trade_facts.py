"""What any bench knows. Each is marked: common practice, no source."""

from collections.abc import Callable

import numpy as np
import pytest

from sequences.numerics.dials.dial import Suffices, judge_dial
from sequences.numerics.levels.level_laws import CalibratedLaw
from sequences.numerics.responses.passband import fit_passband
from tests.published.responses import Array, pair_db, single_db

MIDDLE_HZ, HALF_WIDTH_HZ = 60e3, 250.0


def butterworth_db(x: Array) -> Array:
    """A flat-topped filter of four poles."""
    return np.asarray(-10 * np.log10(1 + x**8))


def bell_db(x: Array) -> Array:
    """A bell that no circuit draws."""
    return np.asarray(-3 * np.square(x))


def over_coupled_db(x: Array) -> Array:
    """Two humps."""
    return pair_db(1.5 * x, 1.6)


@pytest.mark.parametrize("shape", [single_db, over_coupled_db, butterworth_db, bell_db])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_the_difference_between_the_two_sides_of_a_peak_is_split(shape: Callable[[Array], Array], seed: int) -> None:
    """Common practice, no source: midway between any two places of equal reading lies the centre."""
    off_hz = HALF_WIDTH_HZ * np.sort(np.random.default_rng(seed).uniform(0.05, 3, 25))
    frequency_hz = np.concatenate((MIDDLE_HZ - off_hz, MIDDLE_HZ + off_hz))
    level_db = np.tile(shape(off_hz / HALF_WIDTH_HZ), 2)

    fit = fit_passband(frequency_hz, level_db)

    assert fit.centre is not None
    assert fit.centre.value == pytest.approx(MIDDLE_HZ, abs=0.01 * HALF_WIDTH_HZ)


def test_an_over_coupled_can_peaked_by_meter_ends_on_a_hump_and_is_centred_between_them() -> None:
    """Common practice, no source: its highest reading is not its middle."""
    frequency_hz = np.linspace(MIDDLE_HZ - 1500, MIDDLE_HZ + 1500, 120)
    level_db = over_coupled_db((frequency_hz - MIDDLE_HZ) / HALF_WIDTH_HZ)
    level_db += np.random.default_rng(4).normal(0, 0.02, level_db.size)

    fit = fit_passband(frequency_hz, level_db)

    assert abs(frequency_hz[np.argmax(level_db)] - MIDDLE_HZ) > 0.7 * HALF_WIDTH_HZ
    assert fit.centre is not None
    assert fit.centre.value == pytest.approx(MIDDLE_HZ, abs=0.02 * HALF_WIDTH_HZ)


@pytest.mark.parametrize("error_hz", [-3000.0, 3000.0])
def test_a_dial_whose_error_is_the_same_at_both_ends_needs_only_its_pointer_moved(error_hz: float) -> None:
    """Common practice, no source: here from the two ends alone."""
    judged = judge_dial([3.5e6, 4.0e6], [error_hz, error_hz], 20.0, 500.0)

    assert judged.suffices is Suffices.YES
    assert judged.shift_hz.value == pytest.approx(error_hz)
    assert judged.left_hz == pytest.approx((0, 0))


def test_the_more_negative_the_agc_line_the_stronger_the_signal() -> None:
    """Common practice, no source: a negative line that falls as the signal grows."""
    steps_dbm = np.arange(-100.0, -20.0, 10.0)
    line_v = -np.array([0.1, 0.5, 1.4, 2.6, 4.0, 5.5, 7.1, 8.8])
    law = CalibratedLaw.from_steps(steps_dbm, line_v, 0.01)

    levels_dbm = [law.to_level_db(volts).level_db for volts in (-0.3, -1.0, -3.0, -6.0, -8.5)]

    assert np.all(np.diff(np.array(levels_dbm, dtype=float)) > 0)
