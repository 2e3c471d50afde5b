"""Serial ports, adapters and locks: each over a wire of our own, and what is missing as one sentence."""

from __future__ import annotations

import gc
import struct
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from drivers import opening
from drivers.counters import open_counter
from drivers.errors import BadAddressError, InstrumentInUseError, NotConnectedError
from drivers.meters import open_meter
from drivers.opening import VisaMissingError
from drivers.sources import open_source
from drivers.transport import VisaBackend, VisaTransport
from tests.drivers.faulty import Misfortune, SerialWire, Signal, speaks
from tests.drivers.gpib_adapter import GpibAdapter
from tests.drivers.lan_peers import HislipPeer, Vxi11Peer
from tests.drivers.peers import Connection, Peer, wait_until
from tests.drivers.test_links import Bench

if TYPE_CHECKING:
    from collections.abc import Callable

# A serial port


def test_a_source_on_a_serial_port_is_driven_like_any_other() -> None:
    """Over a pseudo-terminal."""
    signal = Signal(output_on=True)
    with SerialWire(speaks(signal, "Source"), Misfortune(late_s=0.1)) as wire:
        source = open_source(wire.address, ceiling_dbm=0.0, baud=115200)
        assert not signal.output_on
        source.set_frequency(455e3)
        source.set_power(-60.0)
        source.set_output(True)
        assert (signal.frequency_hz, signal.power_dbm, signal.output_on) == (455e3, -60.0, True)
        source.close()

    assert not signal.output_on


def test_a_serial_port_that_is_not_there_is_one_sentence() -> None:
    """With its name as it was given."""
    with pytest.raises(NotConnectedError, match="/dev/ttyNowhere") as caught:
        VisaTransport("ASRL/dev/ttyNowhere::INSTR").open(1.0)

    assert "\n" not in str(caught.value)
    assert "errno" not in str(caught.value).casefold()


# An Ethernet-to-GPIB adapter


def test_three_instruments_behind_one_adapter_share_its_link() -> None:
    """Each by its own address on the bus; the link goes with the last of them."""
    signal = Signal()
    bench = Bench(reading="455000")
    bus = {7: speaks(signal, "Source"), 22: speaks(signal, "Meter"), 3: _counting(bench)}
    with GpibAdapter(bus) as adapter:
        source = open_source(adapter.at(7), ceiling_dbm=0.0)
        meter = open_meter(adapter.at(22))
        counter = open_counter(adapter.at(3))
        source.set_power(-60.0)
        source.set_output(True)
        volts, hertz = [], []
        for step in range(5):
            source.set_frequency(455e3 + step)
            volts.append(meter.read_voltage())
            hertz.append(counter.read_frequency(1.0))
        for driver in (source, meter, counter):
            driver.close()

    assert volts == pytest.approx([0.455 + step * 1e-6 for step in range(5)], abs=1e-12)
    assert hertz == [455e3] * 5
    assert not signal.output_on
    assert "++read_tmo_ms 3000" in adapter.orders


def _counting(bench: Bench) -> Callable[[str], str | None]:
    settings = {":SENS:FREQ:APER": "1", ":CONF:FREQ": ""}
    bench.settings.update(settings)
    return bench.message


@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")  # the backend loses its socket here
def test_an_adapter_that_is_not_there_is_one_sentence() -> None:
    """With the whole address."""
    address = "PRLGX-TCPIP3::127.0.0.1::1::INTFC GPIB3::7::INSTR"
    with pytest.raises(NotConnectedError, match="connection refused") as caught:
        VisaTransport(address).open(1.0)

    assert address in str(caught.value)
    del caught
    gc.collect()


# Locks of the instruments' own


class LockedHislip(HislipPeer):
    """Another computer has it."""

    def _lock(self) -> int:
        return 0


class LockedVxi11(Vxi11Peer):
    """Another link has it."""

    def _lock(self) -> int:
        return 11


@pytest.mark.parametrize("locked", [LockedHislip, LockedVxi11])
def test_an_instrument_that_another_computer_has_locked_is_refused(
    locked: type[LockedHislip | LockedVxi11],
) -> None:
    """Before anything is asked of it."""
    heard: list[str] = []

    def answer(message: str) -> str | None:
        heard.append(message)
        return None

    with (
        locked(answer) as peer,
        pytest.raises(InstrumentInUseError, match=r"in use by another computer.*End the other one first"),
    ):
        open_meter(peer.address)

    assert heard == []


@pytest.mark.parametrize("lan", [HislipPeer, Vxi11Peer])
def test_two_roles_of_one_program_do_not_lock_each_other_out(lan: type[HislipPeer | Vxi11Peer]) -> None:
    """A source and meter in one."""
    signal = Signal()
    with lan(speaks(signal, "Both")) as peer:
        source = open_source(peer.address, ceiling_dbm=0.0)
        meter = open_meter(peer.address)
        source.set_power(-60.0)
        source.set_frequency(455e3)
        source.set_output(True)

        assert meter.read_voltage() == pytest.approx(0.455)
        meter.close()
        source.close()
        wait_until(lambda: not signal.output_on)


# What is missing


@pytest.mark.parametrize(
    ("address", "extra"),
    [
        ("ASRL/dev/ttyUSB0::INSTR", "serial"),
        ("PRLGX-ASRL::/dev/ttyUSB0::INTFC GPIB0::7::INSTR", "serial"),
        ("USB::0x1234::0x5678::1::INSTR", "usb"),
        ("GPIB::7::INSTR", "gpib"),
    ],
)
def test_missing_software_is_one_sentence_with_the_command_that_installs_it(
    address: str, extra: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An extra of this package."""
    monkeypatch.setattr(opening.importlib.util, "find_spec", lambda _: None)  # type: ignore[attr-defined] # a module

    with pytest.raises(BadAddressError, match=rf"install it with: pip install 'peakwright\[{extra}\]'") as caught:
        raise opening.opening_error(address, ValueError("Please install something"))

    assert "\n" not in str(caught.value)


def test_a_vendors_visa_that_is_not_installed_is_one_sentence() -> None:
    """It was asked for by name."""
    with pytest.raises(VisaMissingError, match=r"'ivi' cannot be loaded.*leave --visa out"):
        VisaBackend().choose("ivi")


def test_the_library_that_comes_with_it_can_be_named_too() -> None:
    """It is what there is without a choice."""
    backend = VisaBackend()
    backend.choose("py")

    assert backend.manager() is VisaBackend().manager()


def test_a_refused_hislip_connection_is_told_in_plain_words() -> None:
    """The library speaks of location information. In a process of its own, since the library leaves a socket."""
    program = (
        "from drivers.errors import NotConnectedError\n"
        "from drivers.transport import VisaTransport\n"
        "try:\n    VisaTransport('TCPIP::127.0.0.1::hislip0,9::INSTR').open(1.0)\n"
        "except NotConnectedError as error:\n    print(error)\n"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)

    assert "nothing there takes a HiSLIP connection; try its SOCKET" in done.stdout


class FullVxi11(Vxi11Peer):
    """Has no link left to give."""

    def _result(self, procedure: int, arguments: bytes) -> bytes:
        out_of_resources = 9  # VXI-11 table B.2
        create_link = 10
        if procedure == create_link:
            return struct.pack("!iiII", out_of_resources, 0, 0, 0)
        return super()._result(procedure, arguments)


def test_an_instrument_that_gives_no_vxi11_link_is_told_in_plain_words() -> None:
    """The library gives a number."""
    with (
        FullVxi11(lambda _: None) as peer,
        pytest.raises(NotConnectedError, match="gives no VXI-11 link; another program may be using it"),
    ):
        open_meter(peer.address)


@pytest.mark.parametrize(
    ("way_in", "said"),
    [
        ("TCPIP::127.0.0.1::hislip0,{}::INSTR", "nothing there takes a HiSLIP connection"),
        ("TCPIP::127.0.0.1,{}::inst0::INSTR", "gives no VXI-11 link"),
        ("TCPIP::127.0.0.1::{}::SOCKET", "drops it before it says its name"),
    ],
)
@pytest.mark.filterwarnings("ignore::pytest.PytestUnraisableExceptionWarning")  # the backend loses its socket here
def test_a_gateway_whose_instrument_is_off_is_told_in_one_sentence(way_in: str, said: str) -> None:
    """It takes every connection and drops it."""
    connections: list[Connection] = []
    with Peer(connections.append) as gateway, pytest.raises(NotConnectedError, match=said) as caught:
        open_meter(way_in.format(gateway.port))

    assert "\n" not in str(caught.value)
    del caught
    gc.collect()
