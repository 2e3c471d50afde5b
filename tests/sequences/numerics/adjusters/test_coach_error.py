"""Guiding a hand to a known target: laws that hold for any readings, and a simulated hand in trouble."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequences.numerics.adjusters.coach import LiveReading, Trend, Word, scale_for
from sequences.numerics.adjusters.coach_error import ErrorCourse, ErrorGoal, coach_error
from sequences.numerics.wording import say_hz
from tests.sequences.numerics.simulated_hand import HandOnSlug

GOAL = ErrorGoal("beat oscillator slug", target=0.0, within=7.0, say=say_hz, clockwise=-1, nudge_turns=0.125)

SIXTY_FOURTHS = st.integers(-320_000, 320_000).map(lambda count: count / 64.0)
VALUES = st.lists(SIXTY_FOURTHS, min_size=1, max_size=60)
"""Values within 5 kHz that neither sums nor powers of two round."""


def course_of(goal: ErrorGoal, readings: Sequence[LiveReading]) -> list[ErrorCourse]:
    """Give what is known after each reading."""
    courses: list[ErrorCourse] = []
    for reading in readings:
        courses.append(coach_error(goal, courses[-1] if courses else None, reading))
    return courses


def steady(*values: float, sigma: float = 1.0) -> list[LiveReading]:
    """Give readings of values."""
    return [LiveReading(value, sigma) for value in values]


@given(VALUES)
def test_the_error_shown_is_the_latest_reading_less_the_target_without_a_dead_zone(values: list[float]) -> None:
    goal = replace(GOAL, target=100.0)
    for course, value in zip(course_of(goal, steady(*values)), values, strict=True):
        assert course.advice.error == value - 100.0


@given(VALUES)
def test_the_closest_so_far_never_goes_away_again(values: list[float]) -> None:
    closest = [course.closest for course in course_of(GOAL, steady(*values))]
    sizes = [abs(each) for each in closest if each is not None]
    assert len(sizes) == len(values)
    assert sizes == sorted(sizes, reverse=True)


def test_one_pop_at_the_target_is_not_the_closest() -> None:
    courses = course_of(GOAL, steady(900.0, 880.0, 860.0, 0.0, 820.0, 800.0))
    assert courses[-1].closest == 800.0


@given(VALUES)
def test_the_needle_is_never_off_its_scale_and_the_scale_is_1_2_or_5_times_a_power_of_ten(values: list[float]) -> None:
    for course, value in zip(course_of(GOAL, steady(*values)), values, strict=True):
        assert abs(value) <= course.advice.full_scale
        mantissa = course.advice.full_scale / 10.0 ** math.floor(math.log10(course.advice.full_scale) + 1e-9)
        assert min(abs(mantissa - each) for each in (1.0, 2.0, 5.0)) < 1e-6


@given(VALUES)
def test_mirrored_readings_give_the_same_words_and_the_other_way(values: list[float]) -> None:
    straight = course_of(GOAL, steady(*values))
    mirrored = course_of(GOAL, steady(*(-value for value in values)))
    for one, other in zip(straight, mirrored, strict=True):
        assert one.advice.word is other.advice.word
        assert one.advice.trend is other.advice.trend
        assert one.advice.turn == -other.advice.turn
        assert one.advice.full_scale == other.advice.full_scale


@given(VALUES, st.sampled_from([2.0**-20, 2.0**-3, 2.0**7]))
def test_the_unit_does_not_matter_to_the_words(values: list[float], factor: float) -> None:
    """Powers of two, for they scale floating point numbers without rounding."""
    scaled_goal = replace(GOAL, within=GOAL.within * factor)
    scaled = [LiveReading(value * factor, factor) for value in values]
    for one, other in zip(course_of(GOAL, steady(*values)), course_of(scaled_goal, scaled), strict=True):
        assert one.advice.word is other.advice.word
        assert one.advice.turn == other.advice.turn


@given(VALUES)
def test_where_nobody_knows_what_clockwise_does_no_way_is_told(values: list[float]) -> None:
    courses = course_of(replace(GOAL, clockwise=0), steady(*values))

    assert all(course.advice.turn == 0 for course in courses)


@given(VALUES)
def test_it_is_done_only_where_the_latest_readings_lie_in_the_good_zone(values: list[float]) -> None:
    courses = course_of(GOAL, steady(*values))
    for before, course in zip([None, *courses], courses, strict=False):
        if course.advice.word is Word.DONE and (before is None or before.advice.word is not Word.DONE):
            latest = course.errors[-3:]
            assert abs(sum(latest) / len(latest)) <= 1.25 * GOAL.within
            assert abs(sorted(latest)[len(latest) // 2]) <= 1.25 * GOAL.within


@given(st.floats(10.0, 4000.0), st.floats(0.5, 0.95))
def test_an_even_approach_is_never_told_to_turn_back(start: float, share: float) -> None:
    values = [start * share**count for count in range(60)]
    words = {course.advice.word for course in course_of(GOAL, steady(*values, sigma=0.1))}

    assert words <= {Word.TURN, Word.HOLD, Word.DONE}


@given(st.floats(20.0, 4000.0), st.floats(1.05, 1.5))
def test_going_away_evenly_is_told_to_turn_back(start: float, share: float) -> None:
    values = [min(start * share**count, 1e6) for count in range(12)]
    courses = course_of(GOAL, steady(*values, sigma=0.1))

    assert courses[-1].advice.word is Word.TURN_BACK
    assert courses[-1].advice.trend is Trend.FARTHER


@pytest.mark.parametrize(("error", "turn"), [(300.0, 1), (-300.0, -1)])
def test_the_way_follows_from_the_sign_and_from_what_clockwise_does(error: float, turn: int) -> None:
    """Clockwise lowers: too high wants clockwise."""
    assert course_of(GOAL, steady(error))[-1].advice.turn == turn
    assert course_of(replace(GOAL, clockwise=1), steady(error))[-1].advice.turn == -turn


def test_crossing_the_target_is_past_it_and_then_turn_back_with_the_way_home() -> None:
    courses = course_of(GOAL, steady(100.0, 60.0, 20.0, -20.0, -60.0, -100.0, -140.0))
    words = [course.advice.word for course in courses]

    assert Word.PAST_IT in words
    assert words[-1] is Word.TURN_BACK
    assert next(course.advice.turn for course in courses if course.advice.word is Word.PAST_IT) == -1


def test_one_pop_moves_no_word() -> None:
    calm = [300.0 - 5.0 * count for count in range(30)]
    popped = [*calm[:15], 4000.0, *calm[16:]]
    words = [course.advice.word for course in course_of(GOAL, steady(*popped))]

    assert set(words) == {Word.TURN}


def test_an_overload_waits_and_forgets_nothing() -> None:
    courses = course_of(GOAL, [*steady(300.0, 280.0, 260.0), LiveReading(None), *steady(240.0)])

    assert courses[3].advice.word is Word.WAIT
    assert courses[3].advice.error is None
    assert courses[4].advice.trend is Trend.NEARER
    assert courses[4].advice.word is Word.TURN


def test_off_the_scale_the_side_alone_tells_the_way() -> None:
    course = course_of(GOAL, [LiveReading(None, side=1)])[-1]

    assert course.advice.word is Word.TURN
    assert course.advice.turn == 1
    assert course.advice.error is None


def test_a_known_amount_a_turn_tells_how_far() -> None:
    course = course_of(replace(GOAL, per_turn=600.0), steady(-150.0))[-1]

    assert course.advice.turns_left == pytest.approx(0.25)
    assert "0.25 of a turn" in course.advice.sentence


def test_signalled_nudges_tell_how_far() -> None:
    """Eighths of a turn of 75 Hz each; 150 Hz are a quarter turn."""
    readings = [
        *steady(300.0),
        LiveReading(300.0, 1.0, nudges=1),
        *steady(225.0),
        LiveReading(225.0, 1.0, nudges=1),
        LiveReading(150.0, 1.0, nudges=1),
    ]

    assert course_of(GOAL, readings)[-1].advice.turns_left == pytest.approx(0.25)


def test_nothing_moving_is_said_after_a_while() -> None:
    courses = course_of(GOAL, steady(*[300.0] * 60))

    assert "Nothing moves" not in courses[10].advice.sentence
    assert "Nothing moves" in courses[-1].advice.sentence


def test_two_stray_turns_and_the_file_is_not_believed_any_more() -> None:
    """The hand obeys a file that is wrong: twice it is led away, and no third time."""
    hand = HandOnSlug(error=-300.0, per_turn=300.0, noise=1.0, seed=3)
    words = hand.work(replace(GOAL, clockwise=-1), most=200, true_clockwise=1)

    assert words.count(Word.DONE) == 1
    assert abs(hand.error) <= 1.5 * GOAL.within


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("clockwise", [-1, 0])
def test_a_hand_with_slack_and_coarse_fingers_in_noise_gets_there(seed: int, clockwise: int) -> None:
    """It starts up to a kilohertz off; noise is a third of the good zone, and every twentieth reading pops."""
    start = float(np.random.default_rng(seed).uniform(-1000.0, 1000.0))
    hand = HandOnSlug(error=start, per_turn=300.0, noise=2.3, seed=seed, pops=0.05)
    words = hand.work(replace(GOAL, clockwise=clockwise), most=400, true_clockwise=-1)

    assert words[-1] is Word.DONE
    assert abs(hand.error) <= 1.5 * GOAL.within


def test_a_zone_without_width_is_refused() -> None:
    with pytest.raises(ValueError, match="width above zero"):
        coach_error(replace(GOAL, within=0.0), None, LiveReading(1.0))


def test_a_reading_that_is_no_number_is_refused() -> None:
    with pytest.raises(ValueError, match="without a value"):
        coach_error(GOAL, None, LiveReading(math.nan))


@pytest.mark.parametrize(("size", "scale"), [(1.0, 1.0), (1.01, 2.0), (2.5, 5.0), (5.1, 10.0), (0.003, 0.005)])
def test_scales_are_steps_of_one_two_and_five(size: float, scale: float) -> None:
    assert scale_for(size) == pytest.approx(scale)


def test_the_scale_goes_up_at_once_and_down_with_patience() -> None:
    courses = course_of(GOAL, steady(30.0, 300.0, 120.0, 120.0, 120.0, 120.0, 120.0, 300.0))
    scales = [course.advice.full_scale for course in courses]

    assert scales == [50.0, 500.0, 500.0, 500.0, 500.0, 200.0, 200.0, 500.0]
