"""Bands that share adjusters and coils: which to adjust on, and what one that stays off points to."""

import pytest

from sequences.numerics.verdicts.siblings import Adjusted, Blame, blame, next_reference

ORDER = ["25.5", "19", "16", "12", "8.5", "6", "4.5"]
COILS = (("4.5", "6"), ("8.5", "12"), ("16", "19", "25.5"))


def all_right_but(*off: str) -> dict[str, bool]:
    """Say of every band whether it is right."""
    return {band: band not in off for band in ORDER}


def following(*adjusted: tuple[str, tuple[str, ...]]) -> str | None:
    """Give the next reference after bands were adjusted on, each with the bands that were off then."""
    history = [Adjusted(band, all_right_but(*off)) for band, off in adjusted]
    return next_reference(ORDER, history, ORDER, COILS)


def test_the_highest_band_comes_first() -> None:
    assert following() == "25.5"


def test_a_band_that_could_not_be_measured_is_passed_over() -> None:
    assert next_reference(ORDER, [], ORDER[1:], COILS) == "19"


def test_one_band_left_off_is_no_reason_to_begin_again() -> None:
    assert following(("25.5", ("16",))) is None
    assert following(("25.5", ("4.5", "8.5"))) is None


def test_where_its_siblings_come_out_wrong_the_next_one_is_tried_and_kept_if_more_are_right() -> None:
    assert following(("25.5", ("19", "16"))) == "19"
    assert following(("25.5", ("19", "16")), ("19", ("25.5",))) is None


def test_where_the_next_one_is_worse_the_best_is_gone_back_to_and_that_is_the_end() -> None:
    worse = (("25.5", ("19", "16")), ("19", ("25.5", "16", "12")), ("16", ("25.5", "19", "12")))

    assert following(*worse) == "25.5"
    assert following(*worse, ("25.5", ("19", "16"))) is None


def test_without_shared_coils_all_others_are_compared() -> None:
    off = all_right_but("19", "16", "12", "8.5")

    assert next_reference(ORDER, [Adjusted("25.5", off)], ORDER) == "19"
    assert next_reference(ORDER, [Adjusted("25.5", all_right_but("19", "16"))], ORDER) is None


@pytest.mark.parametrize(
    ("off", "band", "wanted"),
    [
        (("16",), "16", Blame.OWN_PART),
        (("8.5",), "8.5", Blame.OWN_PART),
        (("16", "19", "25.5"), "19", Blame.COIL),
        (("4.5", "6"), "6", Blame.COIL),
        (tuple(ORDER), "16", Blame.ADJUSTMENT),
        (("16", "19", "25.5", "8.5", "12"), "16", Blame.ADJUSTMENT),
    ],
)
def test_what_stays_off_points_to_what_it_does_not_share_with_those_that_are_right(
    off: tuple[str, ...], band: str, wanted: Blame
) -> None:
    assert blame(band, all_right_but(*off), COILS) is wanted


def test_a_band_with_coils_of_its_own_has_its_own_part_to_blame() -> None:
    assert blame("9", {"9": False, "10": True}, ()) is Blame.OWN_PART


def test_a_receiver_of_one_band_has_no_siblings_to_compare() -> None:
    assert blame("broadcast", {"broadcast": False}, ()) is Blame.ADJUSTMENT
