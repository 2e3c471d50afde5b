"""The last digit as a uniform part of the budget: half-width a, variance a squared over 3 (JCGM 100:2008, 4.3.7)."""

import math

import numpy as np
import pytest

from sequences.numerics.levels.reading_resolution import resolution_db, widen_by_resolution
from sequences.numerics.responses.passband import fit_passband


@pytest.mark.parametrize(("volts", "step"), [((1.0, 0.9, 0.75), 0.01), ((100.0, 90.0, 70.0), 10.0), ((2.0,), 1.0)])
def test_the_finest_digit_that_is_shown_counts(volts: tuple[float, ...], step: float) -> None:
    half = step / 2
    share = np.mean([half / math.sqrt(3) / value for value in volts])
    assert resolution_db(volts) == pytest.approx(20 / math.log(10) * share)


def test_nothing_read_has_no_resolution() -> None:
    assert resolution_db(()) == 0.0
    assert resolution_db((0.0,)) == 0.0


def test_a_few_rounded_readings_do_not_boast() -> None:
    frequency_hz = np.linspace(440e3, 470e3, 12)
    x = 455e3 / 8e3 * (frequency_hz / 455e3 - 455e3 / frequency_hz)
    fit = fit_passband(frequency_hz, -10 * np.log10(1 + x**2) + 0.01 * np.cos(np.arange(12)))
    wide = widen_by_resolution(fit, 0.15)
    assert fit.centre is not None
    assert wide.centre is not None
    assert wide.centre.value == fit.centre.value
    assert wide.centre.sigma == pytest.approx(fit.centre.sigma * 0.15 / fit.noise_db)
    assert widen_by_resolution(fit, 0.0) == fit
