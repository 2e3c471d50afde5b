"""What an alignment may send into a receiver: the ceiling less what the pad takes, and what each point bears."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sequences.engine.requests import SetPower
from sequences.engine.run import check_limits
from sequences.errors import LimitError
from sequences.receiver.model import Receiver
from server.alignment.walk import held_to_ceiling, limits_on
from server.bench.file import SourceEntry
from tests.bench.steps import shipped

SKERRY = shipped("skerry-7")
ADDRESS = "TCPIP::127.0.0.1::5025::SOCKET"


def levels(receiver: Receiver) -> dict[str, tuple[float, float]]:
    """Give each point's level to begin with and highest level, in dBm at the receiver."""
    return {name: (each.level_dbm, each.highest_level_dbm) for name, each in receiver.source_points.items()}


def test_a_pad_lowers_what_reaches_the_receiver_and_the_points_are_held_to_it() -> None:
    """A source of at most -15 dBm behind 20 dB gives at most -35 dBm, by subtraction."""
    source = SourceEntry(address=ADDRESS, ceiling_dbm=-15.0, loss_db=20.0)

    assert levels(held_to_ceiling(SKERRY, source)) == {
        "antenna": (-35.0, -35.0),
        "first mixer": (-50.0, -35.0),
        "second mixer": (-50.0, -35.0),
        "third mixer": (-50.0, -35.0),
    }


def test_a_point_that_bears_less_than_the_source_gives_is_left_as_its_file_says() -> None:
    source = SourceEntry(address=ADDRESS, ceiling_dbm=30.0, loss_db=6.0)

    assert levels(held_to_ceiling(SKERRY, source)) == levels(SKERRY)


@given(st.floats(-100.0, 30.0), st.floats(0.0, 100.0))
def test_nothing_that_a_run_may_ask_for_is_above_the_source_s_own_ceiling(ceiling_dbm: float, loss_db: float) -> None:
    source = SourceEntry(address=ADDRESS, ceiling_dbm=ceiling_dbm, loss_db=loss_db)
    held = held_to_ceiling(SKERRY, source)
    limits = limits_on(held, source)

    for point, entry in held.source_points.items():
        highest_dbm = limits.with_source_at(point).highest_power_dbm
        assert highest_dbm <= SKERRY.source_points[point].highest_level_dbm
        assert highest_dbm + loss_db <= ceiling_dbm + 1e-9
        assert entry.level_dbm <= highest_dbm


def test_before_a_lead_is_moved_the_most_delicate_point_sets_the_ceiling() -> None:
    limits = limits_on(SKERRY, None)

    assert (limits.highest_power_dbm, limits.loss_db) == (-10.0, 0.0)
    check_limits(SetPower(-10.0), limits)
    with pytest.raises(LimitError, match="ceiling of -10 dBm"):
        check_limits(SetPower(-9.9), limits)
    check_limits(SetPower(0.0), limits.with_source_at("antenna"))
    with pytest.raises(LimitError):
        check_limits(SetPower(0.1), limits.with_source_at("antenna"))


def test_a_point_nobody_knows_changes_nothing() -> None:
    limits = limits_on(SKERRY, SourceEntry(address=ADDRESS, loss_db=3.0))

    assert limits.with_source_at(None) == limits.with_source_at("hat rack") == limits
    assert limits.loss_db == 3.0
