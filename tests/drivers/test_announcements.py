"""Instruments that announce themselves, by multicast DNS and by answering VXI-11's broadcast; all on loopback."""

import gc
import socket
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from functools import partial

import psutil
import pytest
import pyvisa
import zeroconf
from pyvisa_py.tcpip import TCPIPInstrVxi11

from drivers.announcements import listen_for_announcements
from drivers.discovery import discover
from tests.drivers.lan_peers import HislipPeer, Vxi11Peer
from tests.drivers.peers import Peer, answering
from tests.drivers.port_mapper import PortMapper

NAME = "Peakwright Practice,Multimeter,7,1.0"
LISTEN_S = 1.0


class Asked:
    """Says its name, and keeps what it was asked."""

    def __init__(self) -> None:
        self.questions: list[str] = []

    def __call__(self, message: str) -> str | None:
        """Answer one message."""
        self.questions.append(message)
        return NAME if message == "*IDN?" else None


@pytest.fixture(autouse=True)
def _loopback_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let nothing of this reach a network or a serial port: neither who asks nor who announces."""
    monkeypatch.setattr(zeroconf, "Zeroconf", partial(zeroconf.Zeroconf, interfaces=["127.0.0.1"]))
    monkeypatch.setattr(pyvisa.ResourceManager, "list_resources", lambda _: ())


@pytest.fixture
def _broadcast(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """Let the VISA library send its broadcast on loopback, and nothing else of its search."""
    loopback = {name: at for name, at in psutil.net_if_addrs().items() if at[0].address.startswith("127.")}
    monkeypatch.setattr(psutil, "net_if_addrs", lambda: loopback)
    monkeypatch.setattr(pyvisa.ResourceManager, "list_resources", lambda _: TCPIPInstrVxi11.list_resources())
    yield
    with warnings.catch_warnings():  # the library leaves the sockets of its broadcast to the collector
        warnings.simplefilter("ignore", ResourceWarning)
        gc.collect()


@contextmanager
def announced(service: str, port: int) -> Iterator[None]:
    """Announce a service on this machine."""
    kind = f"{service}._tcp.local."
    told = zeroconf.Zeroconf()
    told.register_service(
        zeroconf.ServiceInfo(kind, f"Invented Works.{kind}", port=port, addresses=[socket.inet_aton("127.0.0.1")])
    )
    try:
        yield
    finally:
        told.close()


@pytest.mark.parametrize(
    ("service", "address"),
    [
        ("_scpi-raw", "TCPIP::127.0.0.1::5025::SOCKET"),
        ("_hislip", "TCPIP::127.0.0.1::hislip0,4881::INSTR"),
        ("_vxi-11", "TCPIP::127.0.0.1::INSTR"),
    ],
)
def test_each_service_becomes_an_address(service: str, address: str) -> None:
    """With the port that was announced where the address can hold it."""
    port = {"_scpi-raw": 5025, "_hislip": 4881, "_vxi-11": 111}[service]
    with announced(service, port):
        assert listen_for_announcements(LISTEN_S) == (address,)


def test_what_is_no_instrument_is_left_alone() -> None:
    with announced("_http", 80):
        assert listen_for_announcements(LISTEN_S) == ()


def test_a_plain_socket_that_announces_itself_is_found_and_asked_for_its_name_alone() -> None:
    asked = Asked()
    with Peer(answering(asked)) as meter, announced("_scpi-raw", meter.port):
        (found,) = discover()
    assert (found.address, found.roles) == (meter.address, ("meter",))
    assert asked.questions == ["*IDN?"]


def test_a_hislip_instrument_on_a_port_of_its_own_is_found() -> None:
    asked = Asked()
    with HislipPeer(asked) as meter, announced("_hislip", meter.port):
        (found,) = discover()
    assert (found.address, str(found.identity)) == (meter.address, NAME.replace(",", ", "))
    assert set(asked.questions) == {"*IDN?"}


@pytest.mark.usefixtures("_broadcast")
def test_a_vxi11_instrument_that_answers_the_broadcast_is_found_and_asked_for_its_name_alone() -> None:
    asked = Asked()
    with Vxi11Peer(asked) as meter:
        try:
            mapper = PortMapper(meter.port)
        except OSError as error:
            pytest.skip(f"the port mapper's port is not to be had: {error}")
        with mapper:
            (found,) = discover()
    assert (found.address, found.roles) == ("TCPIP::127.0.0.1::INSTR", ("meter",))
    assert asked.questions == ["*IDN?"]
