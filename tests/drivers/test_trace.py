"""The wire written down: bounded, masked, and in plain characters."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from drivers.errors import ReplyTimeoutError
from drivers.trace import LARGEST_BYTES, WIRE_TRACE, WireTrace
from drivers.transport import VisaTransport
from tests.drivers.peers import Peer, answering

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

ADDRESS = "TCPIP::192.0.2.7::5025::SOCKET"


@pytest.fixture
def trace() -> Iterator[WireTrace]:
    """The program's own, ended after the test."""
    yield WIRE_TRACE
    WIRE_TRACE.end()


def test_messages_answers_and_failures_of_a_real_link_are_written_in_order(tmp_path: Path, trace: WireTrace) -> None:
    """Without the address and the serial number, unless they are wanted."""
    trace.begin(tmp_path / "wire.txt")
    answers = {"*IDN?": "Invented Works,Thing 1,SN12345,2.0", "LATE?": None}
    with Peer(answering(answers.get)) as peer:
        transport = VisaTransport(peer.address)
        transport.open(5.0)
        transport.exchange("*IDN?", 5.0)
        transport.send("*CLS", 5.0)
        with pytest.raises(ReplyTimeoutError):
            transport.exchange("LATE?", 0.05)
    text = (tmp_path / "wire.txt").read_text()
    lines = [line.split(" ", 2)[2] for line in text.splitlines()]

    assert lines[:4] == ["-> *IDN?", "<- Invented Works,Thing 1,*,2.0", "-> *CLS", "-> LATE?"]
    assert lines[4].startswith("!! ")
    assert "SN12345" not in text
    assert str(peer.port) not in text


def test_address_and_serial_number_are_shown_where_they_are_wanted(tmp_path: Path, trace: WireTrace) -> None:
    """For one's own eyes."""
    trace.begin(tmp_path / "wire.txt", masked=False)
    trace.received(ADDRESS, "17;Invented Works,Thing 1,SN12345,2.0")

    assert f"{ADDRESS} <- 17;Invented Works,Thing 1,SN12345,2.0" in (tmp_path / "wire.txt").read_text()


@pytest.mark.parametrize(
    ("reply", "written"),
    [
        ("17;A,B,SN9,1.0", "17;A,B,*,1.0"),
        ("A,B,SN9", "A,B,*"),
        ('1;0,"No error"', '1;0,"No error"'),
        ("+1.0E-01,+2.0E-01", "+1.0E-01,+2.0E-01"),
        ("\x1b[2Jred\x07", r"\x1b[2Jred\x07"),
    ],
)
def test_only_serial_numbers_are_masked_and_nothing_can_act_on_a_terminal(
    tmp_path: Path, reply: str, written: str
) -> None:
    """Two values are no name."""
    trace = WireTrace()
    trace.begin(tmp_path / "wire.txt")
    trace.received(ADDRESS, reply)
    trace.end()

    assert (tmp_path / "wire.txt").read_text().split(" ", 3)[3].rstrip("\n") == written


def test_the_file_never_grows_beyond_its_bound(tmp_path: Path) -> None:
    """The latest is kept."""
    trace = WireTrace()
    trace.begin(tmp_path / "wire.txt")
    for number in range(6000):
        trace.sent(ADDRESS, f"{number} " + "x" * 2000)
    trace.end()

    assert sum(path.stat().st_size for path in tmp_path.iterdir()) <= LARGEST_BYTES
    assert "5999" in (tmp_path / "wire.txt").read_text()


def test_nothing_is_written_before_it_begins() -> None:
    """It costs a look at a variable."""
    trace = WireTrace()
    trace.sent(ADDRESS, "*IDN?")

    assert not trace.is_on
