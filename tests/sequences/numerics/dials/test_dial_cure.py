"""The least that serves is done about a dial: if sliding the pointer brings every mark within limits, nothing else.

Common practice, no source.
"""

import pytest

from sequences.numerics.dials.dial import judge_dial
from sequences.numerics.dials.dial_cure import Cure, next_cure

MARKS_HZ = [0.0, 100e3, 200e3, 300e3, 400e3, 500e3]
BOTH = {Cure.SLIDE, Cure.ENDS}


def cure(errors_hz: list[float], available: set[Cure], done: set[Cure], sigma_hz: float = 5.0) -> Cure:
    """Choose for a limit of 1 kHz."""
    return next_cure(judge_dial(MARKS_HZ, errors_hz, sigma_hz, 1000.0), 1000.0, available, done)


@pytest.mark.parametrize(
    ("errors_hz", "wanted"),
    [
        ([100.0, -300.0, 0.0, 200.0, 500.0, 900.0], Cure.NOTHING),
        ([3000.0, 3300.0, 3100.0, 2900.0, 3400.0, 3600.0], Cure.SLIDE),
        ([-4000.0, -3500.0, -3300.0, -3900.0, -3700.0, -4200.0], Cure.SLIDE),
        ([4000.0, 3300.0, 2600.0, 1900.0, 1200.0, 500.0], Cure.ENDS),
        ([0.0, 100.0, 300.0, 800.0, 1700.0, 3500.0], Cure.ENDS),
    ],
)
def test_the_least_that_serves_is_chosen(errors_hz: list[float], wanted: Cure) -> None:
    assert cure(errors_hz, BOTH, set()) is wanted


def test_ends_once_set_are_not_set_again_but_the_pointer_shares_out_the_bend() -> None:
    bent = [0.0, 1500.0, 2400.0, 2400.0, 1500.0, 0.0]

    assert cure(bent, BOTH, set()) is Cure.ENDS
    assert cure(bent, BOTH, {Cure.ENDS}) is Cure.SLIDE
    assert cure(bent, BOTH, BOTH) is Cure.NOTHING


def test_without_a_pointer_to_slide_the_ends_are_left_alone_where_sliding_would_have_done() -> None:
    """The verdict then says what is off; an oscillator is not bent to a pointer that slipped."""
    assert cure([3000.0] * 6, {Cure.ENDS}, set()) is Cure.NOTHING


def test_where_sliding_left_a_mark_beyond_the_limit_after_all_the_ends_are_set() -> None:
    """A hair's breadth was to spare, and fingers slide only so well."""
    assert cure([1020.0, -960.0, 0.0, 0.0, 0.0, 0.0], BOTH, {Cure.SLIDE}) is Cure.ENDS
    assert cure([1005.0, -990.0, 0.0, 0.0, 0.0, 0.0], BOTH, {Cure.SLIDE}) is Cure.NOTHING


def test_a_slide_that_gains_no_more_than_its_noise_is_not_asked_for() -> None:
    assert cure([1010.0, -1000.0, 0.0, 0.0, 0.0, 0.0], {Cure.SLIDE}, set(), sigma_hz=40.0) is Cure.NOTHING
