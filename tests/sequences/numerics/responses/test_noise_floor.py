"""A floor under the skirts: found where there is one, and only there."""

import numpy as np
import pytest

from sequences.numerics.responses.noise_floor import above_floor, find_floor
from sequences.numerics.responses.readings import Readings, prepare
from tests.sequences.numerics.search_truths import Truth, cascade, coupled_pair, flat_top, single_circuit

WIDTH = 5e3
PLACES = np.linspace(405e3, 505e3, 81)
TRUTHS = [single_circuit(450e3, WIDTH), coupled_pair(450e3, WIDTH, 2.0), cascade(450e3, WIDTH, 3)]
NAMES = ["single circuit", "pair", "three circuits"]


def swept(truth: Truth, floor_db: float, noise_db: float = 0.2) -> Readings:
    """A sweep of a response with a floor: carrier and noise add by power."""
    level = np.array([truth.level_db(place) for place in PLACES])
    shown = 10.0 * np.log10(10.0 ** (level / 10.0) + 10.0 ** (floor_db / 10.0))
    return prepare(PLACES, shown + noise_db * np.random.default_rng(1).standard_normal(len(PLACES)))


@pytest.mark.parametrize("truth", TRUTHS, ids=NAMES)
def test_skirts_that_fall_as_circuits_do_have_no_floor(truth: Truth) -> None:
    readings = swept(truth, -200.0)
    assert find_floor(readings) is None
    assert above_floor(readings) is readings


@pytest.mark.parametrize("truth", [*TRUTHS[1:], flat_top(450e3, WIDTH, 5)], ids=[*NAMES[1:], "five poles"])
def test_a_floor_is_found_at_its_level(truth: Truth) -> None:
    floor = find_floor(swept(truth, -35.0))
    assert floor is not None
    assert floor.level_db == pytest.approx(-35.0, abs=0.5)
    assert floor.noise_db == pytest.approx(0.2, abs=0.15)


def test_the_floors_power_is_taken_off_what_lies_above_it() -> None:
    truth = cascade(450e3, WIDTH, 3)
    kept = above_floor(swept(truth, -35.0, noise_db=0.01))
    true_db = np.array([truth.level_db(place) for place in kept.frequency_hz])
    assert len(kept) >= 5
    assert kept.level_db == pytest.approx(true_db, abs=0.15)
    assert np.min(kept.level_db) > -26.0


def test_readings_that_never_rise_are_not_taken_for_a_floor() -> None:
    assert find_floor(prepare(PLACES, np.random.default_rng(2).standard_normal(len(PLACES)))) is None


def test_a_sweep_of_the_top_alone_has_no_floor() -> None:
    places = np.linspace(447e3, 453e3, 41)
    assert (
        find_floor(prepare(places, np.array([single_circuit(450e3, WIDTH).level_db(place) for place in places])))
        is None
    )


def test_skirts_that_gain_control_has_flattened_are_not_taken_for_a_floor() -> None:
    level = np.array([0.5 * single_circuit(450e3, 500.0).level_db(place) for place in PLACES])
    assert np.ptp(level) > 15.0
    assert find_floor(prepare(PLACES, level + 0.1 * np.random.default_rng(3).standard_normal(len(PLACES)))) is None


def test_nothing_read_has_no_floor() -> None:
    assert find_floor(prepare([], [])) is None
