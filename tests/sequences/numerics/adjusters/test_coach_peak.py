"""Guiding a hand to a maximum with the best held: laws for any readings, and a simulated hand on a single circuit."""

import math
from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequences.numerics.adjusters.coach import LiveReading, Trend, Word
from sequences.numerics.adjusters.coach_peak import PeakCourse, PeakGoal, coach_peak
from sequences.numerics.wording import say_db
from tests.sequences.numerics.simulated_hand import HandOnPeak

GOAL = PeakGoal("tunable IF trimmer", within=0.1, say=say_db)

LEVELS = st.lists(st.integers(-5000, 5000).map(lambda count: count / 128.0), min_size=1, max_size=60)
"""Levels within 40 dB that sums do not round."""

SIGMA_DB = 0.01


def course_of(levels: Sequence[float | None]) -> list[PeakCourse]:
    """Give what is known after each level."""
    courses: list[PeakCourse] = []
    for level in levels:
        courses.append(coach_peak(GOAL, courses[-1] if courses else None, LiveReading(level, SIGMA_DB)))
    return courses


def over_the_top(end: float, step: float = 0.1) -> list[float]:
    """Give the levels of a single circuit turned from 1.5 half-widths below its peak to `end` above it."""
    count = round((end + 1.5) / step)
    return [-10.0 * math.log10(1.0 + (-1.5 + step * each) ** 2) for each in range(count + 1)]


@given(LEVELS)
def test_the_best_never_falls_and_what_is_below_it_is_never_negative(levels: list[float]) -> None:
    courses = course_of(levels)
    best = [course.best for course in courses[2:]]

    assert best == sorted(best)
    assert all(course.advice.below_best is not None and course.advice.below_best >= 0.0 for course in courses)


@given(LEVELS)
def test_there_is_a_target_only_once_the_peak_was_seen_from_both_sides(levels: list[float]) -> None:
    for course in course_of(levels):
        assert (course.advice.target is not None) == course.passed
        assert (course.advice.error is not None) == course.passed
        assert course.passed or course.advice.word not in {Word.HOLD, Word.DONE}


@given(LEVELS)
def test_the_needle_is_never_off_its_scale(levels: list[float]) -> None:
    for course in course_of(levels):
        assert course.advice.below_best is not None
        assert course.advice.below_best <= course.advice.full_scale


@given(LEVELS, st.integers(-64, 64))
def test_only_differences_of_levels_count(levels: list[float], shift: int) -> None:
    straight, shifted = course_of(levels), course_of([level + shift for level in levels])

    assert [course.advice.word for course in straight] == [course.advice.word for course in shifted]
    assert [course.advice.below_best for course in straight] == [course.advice.below_best for course in shifted]


@given(st.lists(st.floats(0.01, 2.0), min_size=5, max_size=40))
def test_a_level_that_only_rises_is_never_told_anything_but_to_go_on(rises: list[float]) -> None:
    levels = [sum(rises[:count]) for count in range(len(rises) + 1)]

    assert {course.advice.word for course in course_of(levels)} == {Word.TURN}


@given(st.lists(st.floats(0.2, 2.0), min_size=8, max_size=40))
def test_a_level_that_falls_from_the_start_is_told_to_turn_back(falls: list[float]) -> None:
    levels = [-sum(falls[:count]) for count in range(len(falls) + 1)]
    courses = course_of(levels)

    assert courses[-1].advice.word is Word.TURN_BACK
    assert courses[-1].advice.trend is Trend.FARTHER
    assert not courses[-1].passed


def test_over_the_top_is_past_it_and_then_back_until_it_is_held_and_done() -> None:
    there = over_the_top(0.6)
    back = there[-2:-8:-1]
    courses = course_of([*there, *back, *[back[-1]] * 6])
    words = [course.advice.word for course in courses]

    assert words[0] is Word.TURN
    assert Word.PAST_IT in words
    assert words.index(Word.PAST_IT) < words.index(Word.HOLD) < words.index(Word.DONE)
    assert courses[-1].advice.error == pytest.approx(0.0, abs=0.1)


def test_a_slip_back_on_the_slope_does_not_make_a_peak_of_it() -> None:
    """A finger slips by half a decibel and goes on up: the peak is still ahead."""
    rising = over_the_top(-0.5)
    courses = course_of([*rising, *rising[-2:-6:-1], *over_the_top(0.0)[len(rising) - 4 :]])

    assert not courses[-1].passed
    assert courses[-1].advice.word is Word.TURN


def test_one_pop_is_not_the_best() -> None:
    levels: list[float | None] = [*over_the_top(0.0)]
    levels[5] = 20.0

    assert course_of(levels)[-1].best < 0.01


def test_an_overload_waits_and_forgets_nothing() -> None:
    courses = course_of([*over_the_top(0.6), None, over_the_top(0.6)[-2]])

    assert courses[-2].advice.word is Word.WAIT
    assert courses[-2].advice.below_best is None
    assert courses[-1].passed


def test_where_nothing_moves_the_other_way_is_to_be_tried() -> None:
    courses = course_of([0.0] * 60)

    assert courses[10].advice.word is Word.TURN
    assert courses[-1].advice.word is Word.TURN_BACK
    assert "Try the other way" in courses[-1].advice.sentence


@pytest.mark.parametrize("way", [1, -1])
@pytest.mark.parametrize("seed", range(10))
def test_a_hand_with_slack_and_coarse_fingers_in_noise_gets_there(seed: int, way: int) -> None:
    """From 1.7 half-widths off, 0.03 dB of noise, every fortieth reading a pop; fingers as they are."""
    hand = HandOnPeak(-1.7, noise_db=0.03, seed=seed, pops=0.025, way=way)
    words = hand.work(GOAL, most=500)

    assert words[-1] is Word.DONE
    assert hand.lost_db < 0.4


def test_a_hand_that_begins_on_the_peak_comes_back_to_it() -> None:
    hand = HandOnPeak(0.0, noise_db=0.02, seed=5)

    assert hand.work(GOAL, most=500)[-1] is Word.DONE
    assert hand.lost_db < 0.3


def test_a_zone_without_width_is_refused() -> None:
    with pytest.raises(ValueError, match="width above zero"):
        coach_peak(PeakGoal("x", 0.0, say_db), None, LiveReading(1.0))


def test_a_reading_that_is_no_number_is_refused() -> None:
    with pytest.raises(ValueError, match="without a value"):
        coach_peak(GOAL, None, LiveReading(math.inf))
