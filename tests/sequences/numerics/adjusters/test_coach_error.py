"""Guiding a hand to a known target: laws that hold for any readings, and hands like a person's."""

import math
from collections.abc import Sequence
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequences.numerics.adjusters.coach import LiveReading, Trend, Word, scale_for
from sequences.numerics.adjusters.coach_error import ErrorCourse, ErrorGoal, coach_error
from sequences.numerics.wording import say_hz
from tests.hands_on_paper import Meter, by_error, error_trial
from tests.human_hands import KINDS, HandKind

GOAL = ErrorGoal("beat oscillator slug", target=0.0, within=7.0, say=say_hz, clockwise=-1, nudge_turns=0.125)

SIXTY_FOURTHS = st.integers(-320_000, 320_000).map(lambda count: count / 64.0)
VALUES = st.lists(SIXTY_FOURTHS, min_size=1, max_size=60)
"""Values within 5 kHz that neither sums nor powers of two round."""


def course_of(goal: ErrorGoal, readings: Sequence[LiveReading]) -> list[ErrorCourse]:
    """Give what is known after each reading, one in three quarters of a second."""
    courses: list[ErrorCourse] = []
    for count, reading in enumerate(readings):
        timed = replace(reading, at_s=0.75 * count)
        courses.append(coach_error(goal, courses[-1] if courses else None, timed))
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
    course: ErrorCourse | None = None
    for count, error in enumerate([900.0] * 10 + [800.0] * 5 + [0.0] + [800.0] * 10):
        course = coach_error(GOAL, course, LiveReading(error, 1.0, at_s=0.1 * count))
    assert course is not None
    assert course.closest == 800.0


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
def test_it_is_done_only_where_the_pause_and_the_latest_reading_lie_in_the_good_zone(values: list[float]) -> None:
    for course in course_of(GOAL, steady(*values)):
        if course.advice.word is Word.DONE:
            assert abs(course.pauses.present.value) <= 2.5 * GOAL.within
            assert abs(course.error) <= 2.5 * GOAL.within + 2.0 * course.pauses.noise


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


def rests(goal: ErrorGoal, *errors: float) -> list[ErrorCourse]:
    """Give what is known at the end of each rest of a second, read ten times."""
    course: ErrorCourse | None = None
    known = []
    for count in range(10 * len(errors)):
        course = coach_error(goal, course, LiveReading(errors[count // 10], 1.0, at_s=0.1 * count))
        known.append(course)
    return known[9::10]


def test_crossing_the_target_is_past_it_with_the_way_home_and_how_far_as_a_share_of_the_last_move() -> None:
    """From 60 to -30 in a move: a third of it back."""
    crossed = rests(GOAL, 240.0, 150.0, 60.0, -30.0)[-1].advice

    assert (crossed.word, crossed.turn) == (Word.PAST_IT, -1)
    assert crossed.of_last_move == pytest.approx(1 / 3, abs=0.05)
    assert "about a third of the last move" in crossed.sentence


def test_farther_away_on_the_far_side_is_to_turn_back() -> None:
    words = [course.advice.word for course in rests(replace(GOAL, clockwise=0), 60.0, -30.0, -120.0)]

    assert words == [Word.TURN, Word.PAST_IT, Word.TURN_BACK]


def test_one_pop_among_quick_readings_moves_no_word() -> None:
    calm = [300.0 - 2.0 * count for count in range(60)]
    course: ErrorCourse | None = None
    words = set()
    for count, error in enumerate([*calm[:30], 4000.0, *calm[31:]]):
        course = coach_error(GOAL, course, LiveReading(error, 1.0, at_s=0.1 * count))
        words.add(course.advice.word)

    assert words == {Word.TURN}


def test_a_signal_that_stays_away_is_lost_and_the_way_out_is_told() -> None:
    courses = course_of(GOAL, [*steady(300.0, 280.0), *[LiveReading(None)] * 5])

    assert courses[2].advice.word is Word.WAIT
    assert courses[-1].advice.word is Word.TURN_BACK
    assert "the signal was lost: go back" in courses[-1].advice.sentence


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


def test_it_asks_before_it_doubts_and_neither_before_a_person_had_time() -> None:
    courses = course_of(GOAL, steady(*[300.0] * 60))

    assert "Are you turning" not in courses[10].advice.sentence
    assert "Are you turning" in courses[20].advice.sentence
    assert "not stuck" in courses[-1].advice.sentence


def test_a_file_that_was_wrong_about_the_way_once_is_not_believed_again() -> None:
    courses = rests(GOAL, 300.0, 330.0, 300.0, 270.0)

    assert [course.advice.turn for course in courses] == [1, 0, 0, 0]
    assert [course.advice.word for course in courses] == [Word.TURN, Word.TURN_BACK, Word.TURN, Word.TURN]


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
@pytest.mark.parametrize("rate_hz", [1.0, 5.0, 30.0])
@pytest.mark.parametrize("clockwise", [-1, 0, 1], ids=["file right", "file silent", "file wrong"])
def test_a_hand_like_a_persons_gets_there_whatever_the_meter(kind: HandKind, rate_hz: float, clockwise: int) -> None:
    """From 100 to 900 Hz off; a turn clockwise adds 600 Hz."""
    coach = [by_error(GOAL.within, clockwise=-clockwise) for _ in range(1 if rate_hz > 5.0 else 2)]
    trials = [error_trial(kind, Meter(rate_hz, noise=1.0), seed, coach=each) for seed, each in enumerate(coach)]

    assert all(trial.done for trial in trials)
    assert max(trial.left for trial in trials) < 4.0 * GOAL.within


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


def test_without_a_first_reading_there_is_a_way_on_and_at_last_a_way_out() -> None:
    courses = course_of(GOAL, [LiveReading(None)] * 60)

    assert courses[1].advice.word is Word.WAIT
    assert courses[6].advice.word is Word.TURN
    assert "Turn slowly, up to a turn either way" in courses[6].advice.sentence
    assert courses[-1].advice.word is Word.TURN_BACK
    assert "say that it does not turn" in courses[-1].advice.sentence


def test_a_first_reading_that_comes_while_it_is_sought_is_guided_by() -> None:
    courses = course_of(GOAL, [*[LiveReading(None)] * 10, *steady(300.0, 280.0, 260.0)])

    assert courses[-1].advice.error == 260.0
    assert courses[-1].advice.word is Word.TURN
    assert courses[-1].advice.trend is Trend.NEARER
