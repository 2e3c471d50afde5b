"""The coarse look over the span, and closing in on what it found."""

from collections.abc import Callable

import numpy as np
import pytest

from sequences.numerics.search.coarse_look import LOOK_READINGS, closing_in, look_frequencies
from tests.sequences.numerics.search_truths import Truth, coupled_pair, flat_top, single_circuit

START, STOP = 405e3, 505e3
NARROWEST = (STOP - START) / 20.0


def test_a_peak_a_twentieth_of_the_span_wide_is_never_further_than_five_eighths_of_its_width_from_a_reading() -> None:
    look = look_frequencies(START, STOP)
    centres = np.linspace(START, STOP, 1001)
    nearest = np.min(np.abs(centres[:, None] - look), axis=1)
    assert np.max(nearest) <= 0.625 * NARROWEST + 1e-6


def test_the_look_costs_no_more_than_it_says_and_stays_inside_the_span() -> None:
    look = look_frequencies(START, STOP)
    assert len(np.unique(look)) == LOOK_READINGS
    assert look.min() > START
    assert look.max() < STOP


def test_a_level_that_drifts_evenly_does_not_tilt_the_look() -> None:
    look = look_frequencies(START, STOP)
    times = np.arange(len(look), dtype=float)
    in_order = times[np.argsort(look)]
    pairs = (in_order[0::2] + in_order[1::2]) / 2.0
    assert np.ptp(pairs) < 1e-9


@pytest.mark.parametrize("position", np.linspace(0.1, 0.9, 9))
@pytest.mark.parametrize(
    "shape",
    [
        lambda centre: single_circuit(centre, NARROWEST),
        lambda centre: flat_top(centre, NARROWEST, 8),
        lambda centre: coupled_pair(centre, NARROWEST, 3.0),
        lambda centre: single_circuit(centre, NARROWEST / 5.0),
    ],
    ids=["single circuit", "flat top of eight poles", "over-coupled pair", "a fifth as wide as looked for"],
)
def test_closing_in_ends_with_both_edges_known_to_half_the_passband(
    shape: Callable[[float], Truth], position: float
) -> None:
    truth = shape(START + position * (STOP - START))
    places = look_frequencies(START, STOP).tolist()
    levels = [truth.level_db(place) for place in places]
    for _ in range(20):
        place = closing_in(np.array(places), np.array(levels), START, STOP)
        if place is None:
            break
        places.append(place)
        levels.append(truth.level_db(place))
    assert place is None
    inside = [place for place, level in zip(places, levels, strict=True) if level > max(levels) - 3.0]
    assert len(inside) >= 3
    assert len(places) <= LOOK_READINGS + 16


def test_a_pop_does_not_draw_the_search_away_from_the_peak() -> None:
    truth = single_circuit(455e3, NARROWEST)
    places = look_frequencies(START, STOP).tolist()
    levels = [truth.level_db(place) for place in places]
    levels[1] += 40.0
    for _ in range(20):
        place = closing_in(np.array(places), np.array(levels), START, STOP)
        if place is None:
            break
        places.append(place)
        levels.append(truth.level_db(place))
    assert places.count(places[1]) == 2
    assert abs(places[-1] - 455e3) < NARROWEST
