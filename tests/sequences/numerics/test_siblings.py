"""Bands that share adjusters and coils: which to adjust on, and what one that stays off points to."""

import pytest

from sequences.numerics.siblings import Blame, blame, next_reference

ORDER = ["28", "21", "14", "9.5", "7", "5", "3.5"]
COILS = (("3.5", "5"), ("7", "9.5"), ("14", "21", "28"))


def all_right_but(*off: str) -> dict[str, bool]:
    """Say of every band whether it is right."""
    return {band: band not in off for band in ORDER}


def test_the_highest_band_comes_first() -> None:
    assert next_reference(ORDER, [], all_right_but("28", "21", "14")) == "28"


def test_a_band_that_could_not_be_measured_is_passed_over() -> None:
    right = all_right_but("21")
    del right["28"]

    assert next_reference(ORDER, [], right) == "21"


def test_one_band_left_off_is_no_reason_to_begin_again() -> None:
    assert next_reference(ORDER, ["28"], all_right_but("14")) is None


def test_where_nearly_all_others_come_out_wrong_the_next_band_is_tried() -> None:
    assert next_reference(ORDER, ["28"], all_right_but("21", "14", "9.5", "7")) == "21"
    assert next_reference(ORDER, ["28", "21"], all_right_but("28")) is None


@pytest.mark.parametrize(
    ("off", "band", "wanted"),
    [
        (("14",), "14", Blame.OWN_PART),
        (("7",), "7", Blame.OWN_PART),
        (("14", "21", "28"), "21", Blame.COIL),
        (("3.5", "5"), "5", Blame.COIL),
        (tuple(ORDER), "14", Blame.ADJUSTMENT),
        (("14", "21", "28", "7", "9.5"), "14", Blame.ADJUSTMENT),
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
