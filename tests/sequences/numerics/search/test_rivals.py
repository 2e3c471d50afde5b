"""Another response beside the one that is searched for, and worlds of every kind; truths by formulas of their own."""

import numpy as np
import pytest

from sequences.numerics.figures import DoubtName
from sequences.numerics.search.next_reading import Finished, ScanGoal, Search, begin, choose, current_fit, observe
from sequences.numerics.search.rivals import Rival, Skirts, Suspect, find_rival, rises_at
from tests.sequences.numerics.search_truths import Truth, flat_top, single_circuit
from tests.sequences.numerics.search_worlds import searched
from tests.trials import trials

WIDTH_HZ, MIDDLE_HZ = 1e3, 1e6


def search_among(peaks: list[tuple[float, Truth]], widths: float, seed: int, floor_db: float = -200.0) -> Search:
    """Search a window so many widths wide about 1 MHz, with 0.3 dB of noise, for the centre to 1 % of the width."""
    dice, half_hz = np.random.default_rng(seed), 0.5 * widths * WIDTH_HZ
    search = begin(ScanGoal(MIDDLE_HZ - half_hz, MIDDLE_HZ + half_hz, 0.01, None, 300))
    while not isinstance(move := choose(search), Finished):
        power = 10.0 ** (floor_db / 10.0)
        power += sum(10.0 ** ((down_db + truth.level_db(move.frequency_hz)) / 10.0) for down_db, truth in peaks)
        search = observe(search, move.frequency_hz, 10.0 * np.log10(power) + 0.3 * dice.standard_normal())
    return search


@pytest.mark.parametrize("seed", range(6))
def test_a_rival_15_db_down_six_widths_away_is_named_and_does_not_move_the_centre(seed: int) -> None:
    beside_hz = MIDDLE_HZ + (-1) ** seed * 6.0 * WIDTH_HZ
    peaks = [(0.0, single_circuit(MIDDLE_HZ, WIDTH_HZ)), (-15.0, single_circuit(beside_hz, WIDTH_HZ))]
    search = search_among(peaks, 20.0, seed)
    fit = current_fit(search)
    assert fit is not None
    assert fit.centre is not None
    assert abs(fit.centre.value - MIDDLE_HZ) < 3.0 * fit.centre.sigma
    (doubt,) = (each for each in fit.doubts if each.name is DoubtName.SECOND_PEAK)
    assert abs(search.rivals[0].frequency_hz - beside_hz) < WIDTH_HZ
    assert 12.0 < search.rivals[0].down_db < 20.0
    assert "There is another response near" in doubt.text


@pytest.mark.parametrize(("place", "floor_db"), [(-4.0, -25.0), (3.0, -40.0), (0.0, -200.0)])
def test_one_response_has_no_rival(place: float, floor_db: float) -> None:
    for truth in (single_circuit, lambda centre, width: flat_top(centre, width, 4)):
        search = search_among([(0.0, truth(MIDDLE_HZ + place * WIDTH_HZ, WIDTH_HZ))], 20.0, 3, floor_db)
        assert search.rivals == ()


def test_a_circuit_in_a_window_of_500_widths_is_found_or_nothing_is_said() -> None:
    found = 0
    for seed in range(6):
        centre_hz = MIDDLE_HZ + (np.random.default_rng([seed, 5]).random() - 0.5) * 480.0 * WIDTH_HZ
        fit = current_fit(search_among([(0.0, single_circuit(centre_hz, WIDTH_HZ))], 500.0, seed, -40.0))
        if fit is not None and fit.centre is not None:
            found += 1
            assert abs(fit.centre.value - centre_hz) < 5.0 * fit.centre.sigma
    assert found >= 5


@pytest.mark.parametrize("part", range(8))
def test_a_search_in_any_world_ends_within_its_budget_and_raises_nothing(part: int) -> None:
    """The benchmark `search_worlds` goes through ten thousand."""
    for seed in range(25 * part, 25 * part + trials(25)):
        searched(seed)


def skirts(off_db: list[float], count: int = 1) -> Skirts:
    """Readings two widths apart above a passband at 0 Hz of 1 Hz, so many at each place; all 10 dB down."""
    places = np.repeat(2.0 * np.arange(1, len(off_db) + 1), count)
    off = np.repeat(off_db, count)
    return Skirts(places, off, np.full(off.shape, 0.2), np.full(off.shape, -10.0), np.empty(0), 0.0, 1.0)


def test_what_stands_off_and_comes_back_is_a_rival_once_seen_twice() -> None:
    assert find_rival(skirts([0.0, 3.0, 0.1])) == Suspect(4.0)
    assert find_rival(skirts([0.0, 3.0, 0.1], count=2)) == Rival(4.0, 10.0, 2.0)


def test_what_only_rises_is_a_floor_and_what_hardly_stands_off_is_noise() -> None:
    assert find_rival(skirts([0.0, 3.0, 6.0, 9.0], count=2)) is None
    assert find_rival(skirts([0.0, 0.9, 0.0], count=2)) is None
    assert find_rival(skirts([])) is None


def test_a_place_where_a_reading_was_lost_is_not_asked_for_again() -> None:
    seen = skirts([0.0, 3.0, 0.1])
    lost = Skirts(seen.frequency_hz, seen.off_db, seen.sigma_db, seen.level_db, np.array([4.0]), 0.0, 1.0)
    assert find_rival(lost) is None


def test_a_rise_near_a_place_is_seen_and_one_farther_off_is_not() -> None:
    assert rises_at(skirts([0.0, 1.0, 0.0]), 5.0, 1.5)
    assert not rises_at(skirts([0.0, 1.0, 0.0]), 7.0, 1.5)
    assert not rises_at(skirts([0.0, 0.4, 0.0]), 5.0, 1.5)
