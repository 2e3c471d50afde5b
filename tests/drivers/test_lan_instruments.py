"""The same drivers over HiSLIP and VXI-11, where no bare socket can be reached."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from pyvisa_py.protocols import rpc

from drivers.errors import LinkLostError, ReplyTimeoutError, ReplyTooLongError
from drivers.meters import open_meter
from drivers.sources import open_source
from drivers.transport import VisaTransport
from tests.drivers.lan_peers import HislipPeer, Vxi11Peer
from tests.drivers.peers import echoing, wait_until

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.drivers.peers import Peer

ANSWERS = {
    "*IDN?": "Peakwright Practice,Multimeter,0,1",
    "*CLS;*OPC?;:SYST:ERR?": '1;0,"No error"',
    ":CONF:VOLT:DC;*OPC?;:SYST:ERR?": '1;0,"No error"',
    ":SYST:ERR?": '0,"No error"',
    ":READ?": "+1.25E-01",
}
LAN = pytest.mark.parametrize("lan", [HislipPeer, Vxi11Peer])
Lan = type[HislipPeer] | type[Vxi11Peer]


@LAN
def test_a_meter_is_read(lan: Lan) -> None:
    """By its resource name alone."""
    with lan(echoing(ANSWERS.get)) as peer:
        meter = open_meter(peer.address)

        assert [meter.read_voltage() for _ in range(3)] == [0.125] * 3
        assert meter.state == "ready"
        meter.close()


@LAN
def test_a_source_is_off_when_it_is_open_and_when_it_is_closed(lan: Lan) -> None:
    """As over a plain socket."""
    heard: list[str] = []
    replies = {**ANSWERS, "*IDN?": "Peakwright Practice,Signal Source,0,1", ":OUTP?": "0"}

    def answer(message: str) -> str | None:
        heard.append(message)
        if ":FREQ?" in message:
            return '1;60000;0,"No error"'
        return replies.get(message, '1;0,"No error"')

    with lan(echoing(answer)) as peer:
        source = open_source(peer.address, ceiling_dbm=0.0)
        source.set_frequency(60e3)
        source.close()

    assert heard[2:] == [
        ":OUTP OFF;*OPC?;:SYST:ERR?",
        ":OUTP?",
        ":FREQ 60000;*OPC?;:FREQ?;:SYST:ERR?",
        ":OUTP OFF;*OPC?;:SYST:ERR?",
        ":OUTP?",
    ]


@LAN
def test_a_reading_that_does_not_come_is_a_timeout_and_the_next_one_is_read(lan: Lan) -> None:
    """The link is opened anew in between."""
    silences = iter([False, True, False])  # the first reading is that with which the meter is tried

    def answer(message: str) -> str | None:
        return None if message == ":READ?" and next(silences) else ANSWERS.get(message)

    with lan(echoing(answer)) as peer:
        meter = open_meter(peer.address, timeout_s=0.5)
        with pytest.raises(ReplyTimeoutError):
            meter.read_voltage()

        assert meter.read_voltage() == 0.125
        meter.close()


@LAN
def test_a_long_reply_is_joined_and_an_endless_one_given_up(lan: Lan) -> None:
    """Within the same limit."""
    replies: dict[str, Callable[[], str]] = {"long": lambda: "x" * 50_000, "longer": lambda: "x" * 70_000}
    with lan(lambda message: replies[message]()) as peer:
        transport = VisaTransport(peer.address)
        transport.open(2.0)
        assert transport.exchange("long", 5.0) == "x" * 50_000
        with pytest.raises(ReplyTooLongError):
            transport.exchange("longer", 5.0)
        assert not transport.is_ready()


@LAN
def test_an_instrument_that_hung_up_is_noticed_before_the_next_message(
    lan: Lan, monkeypatch: pytest.MonkeyPatch
) -> None:
    """And asked for nothing any more: over VXI-11 the backend would spin for five seconds for leave to go."""
    with lan(echoing(ANSWERS.get)) as peer:
        transport = VisaTransport(peer.address)
        transport.open(2.0)
        transport.exchange("*IDN?", 5.0)
        assert transport.is_ready()
        drop_clients(peer)

        wait_until(lambda: not transport.is_ready())
        spun: list[object] = []
        monkeypatch.setattr(rpc, "_recvrecord", lambda *given, **_: spun.append(given))
        transport.close()
        assert not spun


def test_an_instrument_that_hangs_up_instead_of_answering_is_a_lost_link() -> None:
    """Here over HiSLIP."""

    def answer(_: str) -> str | None:
        raise ConnectionError

    with HislipPeer(answer) as peer:
        transport = VisaTransport(peer.address)
        transport.open(2.0)
        with pytest.raises(LinkLostError):
            transport.exchange("*IDN?", 5.0)


def drop_clients(peer: Peer) -> None:
    """Hang up on everyone."""
    for connection in peer._connections:  # noqa: SLF001 - only this test wants it
        connection.hang_up()
