"""Readings that stand off a curve: pops, humps, and curves that are wrong."""

import numpy as np
import pytest

from sequences.numerics.responses.odd_readings import odd_readings
from sequences.numerics.responses.readings import prepare

WIDTH = 5e3
PLACES = 455e3 + np.array([-9e3, -4e3, -2.5e3, -2.4e3, 0.0, 2.4e3, 2.5e3, 4e3, 9e3])


def off_by(*steps: tuple[int, float]) -> np.ndarray:
    levels = np.zeros_like(PLACES)
    for index, step in steps:
        levels[index] += step
    return levels


def test_readings_on_the_curve_are_not_odd() -> None:
    odd = odd_readings(prepare(PLACES, off_by((0, 0.9), (4, -0.9))), np.zeros(9), 0.3, WIDTH)
    assert not odd.alone.any()
    assert not odd.together.any()
    assert odd.again_hz is None


def test_a_reading_far_above_with_nothing_beside_it_is_to_be_taken_again() -> None:
    odd = odd_readings(prepare(PLACES, off_by((8, 10.0))), np.zeros(9), 0.3, WIDTH)
    assert np.flatnonzero(odd.alone).tolist() == [8]
    assert odd.again_hz == PLACES[8]


def test_a_reading_far_below_is_left_out_and_not_taken_again() -> None:
    odd = odd_readings(prepare(PLACES, off_by((8, -10.0))), np.zeros(9), 0.3, WIDTH)
    assert np.flatnonzero(odd.alone).tolist() == [8]
    assert odd.again_hz is None


def test_a_pop_that_the_reading_beside_it_denies_is_not_taken_again() -> None:
    odd = odd_readings(prepare(PLACES, off_by((5, 10.0))), np.zeros(9), 0.3, WIDTH)
    assert np.flatnonzero(odd.alone).tolist() == [5]
    assert odd.again_hz is None


def test_two_readings_that_agree_with_each_other_say_that_the_curve_is_wrong() -> None:
    odd = odd_readings(prepare(PLACES, off_by((5, 10.0), (6, 9.0))), np.zeros(9), 0.3, WIDTH)
    assert not odd.alone.any()
    assert np.flatnonzero(odd.together).tolist() == [5, 6]


def test_two_pops_are_outvoted_by_many_readings_beside_them() -> None:
    places = 455e3 + np.linspace(0.0, 300.0, 9)
    levels = np.zeros(9)
    levels[[2, 6]] = 10.0
    odd = odd_readings(prepare(places, levels), np.zeros(9), 0.3, WIDTH)
    assert np.flatnonzero(odd.alone).tolist() == [2, 6]


@pytest.mark.parametrize("sigma", [0.1, 4.0])
def test_what_is_odd_depends_on_the_readings_own_noise(sigma: float) -> None:
    sigmas = np.full(9, 0.1)
    sigmas[4] = sigma
    readings = prepare(PLACES, off_by((4, 3.0)), sigmas)
    noise_of_unit_weight = float(0.1 * readings.weight[0])
    assert odd_readings(readings, np.zeros(9), noise_of_unit_weight, WIDTH).alone[4] == (sigma < 1.0)
