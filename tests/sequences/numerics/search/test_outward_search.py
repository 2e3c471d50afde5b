"""A window looked for outwards: found wherever it is, the nearest first, and its middle told whatever the detector."""

import math
from collections.abc import Callable
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequences.numerics.search.outward_search import Decision, LookAt, Looked, NotSeen, OutwardGoal, Seen, next_look

WIDTH_HZ = 2000.0
REACH_HZ = 24e3
NOISE_V = 1e-4


def window(centre_hz: float, top_v: float = 1.0) -> Callable[[float], float]:
    """Give the rise over a maximally flat filter of four poles: 1 / sqrt(1 + x^8), half power at x = 1."""
    return lambda hz: top_v / math.sqrt(1.0 + ((hz - centre_hz) / (WIDTH_HZ / 2)) ** 8)


def look_for(rise: Callable[[float], float], expected_hz: float = 455e3) -> tuple[Decision, list[Looked]]:
    """Look until it is seen or not."""
    goal = OutwardGoal(expected_hz, WIDTH_HZ, REACH_HZ, 8 * NOISE_V)
    looked: list[Looked] = []
    while isinstance(decision := next_look(goal, looked), LookAt):
        looked.append(Looked(decision.frequency_hz, rise(decision.frequency_hz)))
        assert len(looked) < 100
    return decision, looked


@given(off_hz=st.floats(-REACH_HZ, REACH_HZ))
def test_a_window_is_found_wherever_it_is_within_reach(off_hz: float) -> None:
    seen, _ = look_for(window(455e3 + off_hz))

    assert isinstance(seen, Seen)
    assert abs(seen.frequency_hz - 455e3 - off_hz) < 0.26 * WIDTH_HZ


@given(off_hz=st.floats(-6e3, 6e3))
def test_a_detector_that_compresses_moves_the_middle_no_farther(off_hz: float) -> None:
    bent = window(455e3 + off_hz)

    seen, _ = look_for(lambda hz: math.tanh(4 * bent(hz)))

    assert isinstance(seen, Seen)
    assert abs(seen.frequency_hz - 455e3 - off_hz) < 0.26 * WIDTH_HZ


def test_a_receiver_on_its_mark_takes_few_looks() -> None:
    seen, looked = look_for(window(455e3))

    assert isinstance(seen, Seen)
    assert len(looked) == 3


def test_the_nearer_of_two_wins_though_the_farther_is_stronger() -> None:
    near, far = window(458e3, top_v=0.1), window(440e3, top_v=1.0)

    seen, _ = look_for(lambda hz: near(hz) if hz > 449e3 else far(hz))

    assert isinstance(seen, Seen)
    assert abs(seen.frequency_hz - 458e3) < 0.26 * WIDTH_HZ


def test_noise_alone_is_not_seen_and_every_place_was_looked_at() -> None:
    seen, looked = look_for(lambda _: 3 * NOISE_V)

    assert isinstance(seen, NotSeen)
    places = sorted(each.frequency_hz for each in looked)
    assert places[0] == pytest.approx(455e3 - REACH_HZ)
    assert places[-1] == pytest.approx(455e3 + REACH_HZ)
    assert max(b - a for a, b in pairwise(places)) <= WIDTH_HZ / 2 + 1e-6


def test_an_overloaded_meter_counts_as_the_top() -> None:
    seen, _ = look_for(lambda hz: math.inf if abs(hz - 460e3) < 600 else window(460e3)(hz))

    assert isinstance(seen, Seen)
    assert abs(seen.frequency_hz - 460e3) < 0.5 * WIDTH_HZ


def test_a_window_without_width_is_refused() -> None:
    with pytest.raises(ValueError, match="both above zero"):
        next_look(OutwardGoal(455e3, 0.0, 1e3, 1e-3), [])
