"""Skirts that are another matter than the top."""

import numpy as np
import pytest

from sequences.numerics.responses.readings import Readings, prepare
from sequences.numerics.responses.skirts import analyse_what_agrees
from tests.sequences.numerics.search_truths import cascade, single_circuit

WIDTH = 5e3
PLACES = np.linspace(430e3, 470e3, 61)


def read(noise_db: float, beyond_db: float) -> Readings:
    """A single circuit whose levels deeper than 20 dB are off by so much, to and fro from reading to reading."""
    truth = single_circuit(450e3, WIDTH / 2.0)
    level = np.array([truth.level_db(place) for place in PLACES])
    level = level + noise_db * np.random.default_rng(3).standard_normal(len(PLACES))
    return prepare(PLACES, level + np.where(level < -20.0, beyond_db * (-1.0) ** np.arange(len(PLACES)), 0.0))


def test_good_skirts_are_fitted_too() -> None:
    assert len(analyse_what_agrees(read(0.5, 0.0)).readings) == len(PLACES)


def test_skirts_that_no_curve_explains_are_left_out() -> None:
    found = analyse_what_agrees(read(0.1, 6.0))
    assert np.min(found.readings.level_db) > -20.5
    assert found.best.parameters[0] == pytest.approx(450e3, abs=0.02 * WIDTH)


def test_steep_skirts_are_left_out_where_the_detector_bends() -> None:
    truth = cascade(450e3, WIDTH, 4)
    level = np.array([truth.level_db(place) for place in PLACES])
    bent = np.where(level < -25.0, level + 0.8 * (level + 25.0) * (1.0 + 0.3 * np.sin(np.arange(len(PLACES)))), level)
    found = analyse_what_agrees(prepare(PLACES, bent + 0.05 * np.random.default_rng(4).standard_normal(len(PLACES))))
    assert len(found.readings) < len(PLACES)
    assert found.best.noise_db < 0.2
