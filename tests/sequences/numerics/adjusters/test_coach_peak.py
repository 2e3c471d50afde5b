"""Guiding a hand to a maximum with the best held: laws for any readings; hands like a person's on a single circuit."""

import math
from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequences.numerics.adjusters.coach import LiveReading, Trend, Word
from sequences.numerics.adjusters.coach_peak import PATIENT_MOVES, PeakCourse, PeakGoal, coach_peak
from sequences.numerics.wording import say_db
from tests.hands_on_paper import Meter, peak_trial
from tests.human_hands import KINDS, HandKind

GOAL = PeakGoal("tunable IF trimmer", within=0.1, say=say_db)

LEVELS = st.lists(st.integers(-5000, 5000).map(lambda count: count / 128.0), min_size=1, max_size=60)
"""Levels within 40 dB that sums do not round."""

SIGMA_DB = 0.01


def course_of(levels: Sequence[float | None], every_s: float = 0.75) -> list[PeakCourse]:
    """Give what is known after each level, read so often."""
    courses: list[PeakCourse] = []
    for count, level in enumerate(levels):
        reading = LiveReading(level, SIGMA_DB, at_s=every_s * count)
        courses.append(coach_peak(GOAL, courses[-1] if courses else None, reading))
    return courses


def over_the_top(end: float, step: float = 0.1) -> list[float]:
    """Give the levels of a single circuit turned from 1.5 half-widths below its peak to `end` above it."""
    count = round((end + 1.5) / step)
    return [-10.0 * math.log10(1.0 + (-1.5 + step * each) ** 2) for each in range(count + 1)]


@given(LEVELS)
def test_the_best_never_falls_and_what_is_below_it_is_never_negative(levels: list[float]) -> None:
    courses = course_of(levels)
    climbing = [course.best for course in courses if course.led <= PATIENT_MOVES]

    assert climbing == sorted(climbing)
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
    below, shifted_below = ([course.advice.below_best for course in each] for each in (straight, shifted))
    assert shifted_below == pytest.approx(below, abs=1e-9)


@given(st.lists(st.floats(0.1, 2.0), min_size=5, max_size=40))
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


def rests(*levels: float, readings: int = 10, every_s: float = 0.1) -> list[PeakCourse]:
    """Give what is known at the end of each rest of a second, read ten times."""
    courses = course_of([level for level in levels for _ in range(readings)], every_s)
    return courses[readings - 1 :: readings]


def test_over_the_top_it_waits_for_a_rest_and_then_tells_how_far_back_as_a_share_of_the_last_move() -> None:
    """Moves of 0.5 half-widths: levels by the universal resonance curve, -10 log10(1 + x^2)."""
    at = [-1.5, -1.0, -0.5, 0.0, 0.5, 1.0]
    courses = rests(*(-10.0 * math.log10(1.0 + x * x) for x in at))
    words = [course.advice.word for course in courses]

    assert words[:4] == [Word.TURN] * 4
    assert words[4] is Word.PAST_IT
    assert courses[4].advice.of_last_move == pytest.approx(1.0, abs=0.2)
    assert courses[5].advice.of_last_move == pytest.approx(2.0, abs=0.3)


def test_back_at_the_best_it_is_done_after_a_rest_and_not_before() -> None:
    at = [-1.5, -1.0, -0.5, 0.0, 0.5, 0.0]
    levels = [-10.0 * math.log10(1.0 + x * x) for x in at for _ in range(10)]
    courses = course_of(levels, 0.1)
    words = [course.advice.word for course in courses]

    assert Word.DONE not in words[:-4]
    assert words[-1] is Word.DONE
    assert courses[-1].advice.error == pytest.approx(0.0, abs=0.05)


def test_between_two_rests_about_the_peak_it_is_to_wait() -> None:
    courses = course_of([level for level in (-5.1, -3.0, -1.0, 0.0, -1.0) for _ in range(10)], 0.1)

    assert [course.advice.word for course in courses[41:44]] == [Word.WAIT] * 3


def test_one_pop_is_not_the_best() -> None:
    levels: list[float | None] = [*over_the_top(0.0)]
    levels[5] = 20.0

    assert course_of(levels, 0.1)[-1].best < 0.01


def test_an_overload_waits_and_forgets_nothing() -> None:
    levels = [level for level in (-5.1, -3.0, -1.0, 0.0, -1.0) for _ in range(10)]
    courses = course_of([*levels, None, -1.0], 0.1)

    assert courses[-2].advice.word is Word.WAIT
    assert courses[-2].advice.below_best is None
    assert courses[-1].passed


def test_a_signal_that_stays_away_is_lost_and_the_way_out_is_told() -> None:
    courses = course_of([-5.0, -4.0, -3.0, *[None] * 5])

    assert courses[3].advice.word is Word.WAIT
    assert courses[-1].advice.word is Word.TURN_BACK
    assert "the signal was lost: go back" in courses[-1].advice.sentence


def test_it_asks_before_it_doubts_and_neither_before_a_person_had_time() -> None:
    courses = course_of([0.0] * 60)

    assert "Are you turning" not in courses[10].advice.sentence
    assert "Are you turning" in courses[20].advice.sentence
    assert "not stuck" in courses[-1].advice.sentence


@pytest.mark.parametrize("every_s", [0.033, 0.2, 1.0])
def test_microvolts_of_noise_on_a_dead_crystal_move_no_word(every_s: float) -> None:
    """The good zone is a hundredth of the other bands' volts; the noise is a thousandth of the zone."""
    goal = PeakGoal("crystal slug", within=0.07, say=say_db, decibels=False)
    course = None
    words = set()
    for count in range(400):
        noise = 60e-6 * math.sin(12.9898 * count) * math.sin(78.233 * count * count)
        course = coach_peak(goal, course, LiveReading(noise, 60e-6, at_s=count * every_s))
        words.add(course.advice.word)

    assert words == {Word.TURN}


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
@pytest.mark.parametrize("rate_hz", [1.0, 5.0, 30.0])
def test_a_hand_like_a_persons_gets_there_whatever_the_meter(kind: HandKind, rate_hz: float) -> None:
    """From half a turn to one and a half off, 0.02 dB of noise and 0.3 s of lag; the step allows 0.5 dB."""
    trials = [peak_trial(kind, Meter(rate_hz), seed) for seed in range(1 if rate_hz > 5.0 else 4)]

    assert all(trial.done for trial in trials)
    assert max(trial.left for trial in trials) < 0.4
    assert sum(trial.astray for trial in trials) <= 0.02 * sum(trial.moves for trial in trials)


def test_a_zone_without_width_is_refused() -> None:
    with pytest.raises(ValueError, match="width above zero"):
        coach_peak(PeakGoal("x", 0.0, say_db), None, LiveReading(1.0))


def test_a_reading_that_is_no_number_is_refused() -> None:
    with pytest.raises(ValueError, match="without a value"):
        coach_peak(GOAL, None, LiveReading(math.inf))


def test_without_a_first_reading_there_is_a_way_on_and_at_last_a_way_out() -> None:
    courses = course_of([None] * 60)

    assert courses[1].advice.word is Word.WAIT
    assert courses[6].advice.word is Word.TURN
    assert courses[-1].advice.word is Word.TURN_BACK
    assert "check the leads, the band and the controls" in courses[-1].advice.sentence
