"""One client operates the bench; its open stream is its heartbeat."""

import pytest

from server.api.seat import OperatorSeat
from server.errors import NamelessClient, NotOperator
from tests.fakes import FakeClock


@pytest.fixture
def clock() -> FakeClock:
    """Time in the test's hand."""
    return FakeClock()


@pytest.fixture
def seat(clock: FakeClock) -> OperatorSeat:
    """A seat whose holder may be gone for ten seconds."""
    return OperatorSeat(clock=clock.now, patience_s=10.0)


def test_the_first_to_act_operates(seat: OperatorSeat) -> None:
    """Each client is told its own view."""
    assert seat.act("one")
    assert seat.state_for("one") == {"present": True, "you": True}
    assert seat.state_for("two") == {"present": True, "you": False}


def test_another_is_refused_until_it_takes_over(seat: OperatorSeat) -> None:
    """Two hands on one bench are one too many."""
    seat.act("one")

    with pytest.raises(NotOperator):
        seat.act("two")
    assert seat.take("two")

    assert seat.holder == "two"
    with pytest.raises(NotOperator):
        seat.act("one")


def test_to_act_again_changes_nothing(seat: OperatorSeat) -> None:
    """So nobody is told of a change."""
    seat.act("one")

    assert not seat.act("one")


@pytest.mark.parametrize("name", [None, ""])
def test_nobody_acts_without_a_name(seat: OperatorSeat, name: str | None) -> None:
    """Neither by acting nor by taking over."""
    with pytest.raises(NamelessClient):
        seat.act(name)
    with pytest.raises(NamelessClient):
        seat.take(name)
    assert seat.holder is None


def test_a_free_seat_is_nobodys_not_even_the_nameless_clients(seat: OperatorSeat) -> None:
    """None is not None here."""
    assert seat.state_for(None) == {"present": False, "you": False}


def test_the_seat_is_kept_while_a_stream_is_open(seat: OperatorSeat, clock: FakeClock) -> None:
    """However long that is."""
    seat.act("one")
    with seat.watching("one"):
        clock.sleep(1000.0)
        assert not seat.leave_if_gone()


def test_the_seat_is_free_when_the_stream_has_been_gone_too_long(seat: OperatorSeat, clock: FakeClock) -> None:
    """It counts from when the stream ended, and is told once."""
    seat.act("one")
    with seat.watching("one"):
        clock.sleep(60.0)
    clock.sleep(9.9)
    assert not seat.leave_if_gone()
    clock.sleep(0.2)

    assert seat.leave_if_gone()

    assert seat.holder is None
    assert not seat.leave_if_gone()


def test_a_stream_that_comes_back_in_time_keeps_the_seat(seat: OperatorSeat, clock: FakeClock) -> None:
    """A page that is reloaded, say."""
    seat.act("one")
    with seat.watching("one"):
        pass
    clock.sleep(9.0)
    with seat.watching("one"):
        clock.sleep(9.0)
        assert not seat.leave_if_gone()


def test_one_of_two_streams_suffices(seat: OperatorSeat, clock: FakeClock) -> None:
    """A reconnecting page may briefly hold two."""
    seat.act("one")
    with seat.watching("one"):
        with seat.watching("one"):
            pass
        clock.sleep(60.0)
        assert not seat.leave_if_gone()


def test_the_stream_of_an_onlooker_keeps_nobody_seated(seat: OperatorSeat, clock: FakeClock) -> None:
    """Nor does one without a name."""
    seat.act("one")
    with seat.watching("two"), seat.watching(None):
        clock.sleep(11.0)
        assert seat.leave_if_gone()


def test_who_acts_without_a_stream_is_gone_ten_seconds_later(seat: OperatorSeat, clock: FakeClock) -> None:
    """Each act counts as a sign of life."""
    seat.act("one")
    clock.sleep(8.0)
    seat.act("one")
    clock.sleep(8.0)
    assert not seat.leave_if_gone()
    clock.sleep(2.0)
    assert seat.leave_if_gone()
