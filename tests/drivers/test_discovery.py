"""Looking for instruments."""

import socket
import time
from functools import partial

import pytest
import pyvisa
import zeroconf

from drivers.discovery import discover
from drivers.identity import Identity
from tests.drivers.peers import Peer, answering


@pytest.fixture(autouse=True)
def _loopback_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let no question of these tests reach a network."""
    monkeypatch.setattr(zeroconf, "Zeroconf", partial(zeroconf.Zeroconf, interfaces=["127.0.0.1"]))


def naming(name: str) -> Peer:
    """A peer that tells its name."""
    return Peer(answering(lambda message: name if message == "*IDN?" else None))


def test_every_given_address_is_asked_and_answers_for_itself() -> None:
    """What answers, what it can be, and what is wrong where nobody does."""
    with socket.create_server(("127.0.0.1", 0)) as listener:
        nobody = f"TCPIP::127.0.0.1::{listener.getsockname()[1]}::SOCKET"
    with naming("Peakwright Practice,Multimeter,7,1.0") as meter, naming("Invented Works,Thing 1,0,1") as thing:
        found = discover([meter.address, nobody, thing.address, "nonsense", meter.address], search=False)

    assert [entry.address for entry in found] == [meter.address, nobody, thing.address, "nonsense"]
    assert found[0].identity == Identity("Peakwright Practice", "Multimeter", "7", "1.0")
    assert [entry.roles for entry in found] == [("meter",), (), (), ()]
    assert [entry.identity is None for entry in found] == [False, True, False, True]
    assert "connection refused" in (found[1].problem or "")
    assert "not a VISA address" in (found[3].problem or "")


def test_what_announces_itself_is_asked_too(monkeypatch: pytest.MonkeyPatch) -> None:
    """After the addresses that were given."""
    with naming("Invented Works,Thing 1,0,1") as given, naming("Invented Works,Thing 2,0,1") as announced:
        monkeypatch.setattr(pyvisa.ResourceManager, "list_resources", lambda _: (given.address, announced.address))
        found = discover([given.address])

    assert [entry.address for entry in found] == [given.address, announced.address]
    assert [str(entry.identity) for entry in found] == [
        "Invented Works, Thing 1, 0, 1",
        "Invented Works, Thing 2, 0, 1",
    ]


def test_a_search_that_fails_finds_nothing_and_says_no_more(monkeypatch: pytest.MonkeyPatch) -> None:
    """A system's own name service may hold the port it needs."""

    def fail(_: object) -> tuple[str, ...]:
        raise OSError("Address already in use")

    monkeypatch.setattr(pyvisa.ResourceManager, "list_resources", fail)

    assert discover() == ()


def test_nothing_is_searched_for_unless_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    """It takes two seconds and speaks to the whole network."""

    def fail(_: object) -> tuple[str, ...]:
        pytest.fail("searched")

    monkeypatch.setattr(pyvisa.ResourceManager, "list_resources", fail)

    assert discover((), search=False) == ()


def test_the_ways_in_to_one_host_are_asked_one_after_the_other() -> None:
    """They may be one instrument's, which serves one at a time."""
    at_work, most_at_work = 0, 0

    def name(message: str) -> str | None:
        nonlocal at_work, most_at_work
        at_work += 1
        most_at_work = max(most_at_work, at_work)
        time.sleep(0.2)
        at_work -= 1
        return "Invented Works,Thing 1,0,1" if message == "*IDN?" else None

    with Peer(answering(name)) as one, Peer(answering(name)) as other:
        found = discover([one.address, other.address], search=False)

    assert [entry.address for entry in found if entry.identity] == [one.address, other.address]
    assert most_at_work == 1
