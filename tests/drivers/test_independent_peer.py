"""The drivers against an SCPI server that is not ours (scpipy, from PyPI), over its own sockets."""

import pytest

from drivers.counters import open_counter
from drivers.errors import InstrumentError, LinkLostError, NotANumberError, OverloadError, WrongRoleError
from drivers.meters import open_meter
from drivers.sources import open_source
from tests.drivers.independent import (
    Signal,
    counter_router,
    meter_router,
    old_meter_router,
    serving,
    source_router,
)

NAME = "Independent,Thing,0,1"
SHORT_S = 0.5


def test_a_source_is_set_checked_and_made_safe() -> None:
    """Its parser takes our headers, numbers and units as SCPI."""
    signal = Signal()
    with serving(NAME, source_router(signal)) as address:
        source = open_source(address, ceiling_dbm=-10.0)
        assert not signal.flows()
        source.set_frequency(455_000.25)
        source.set_power(-60.5)
        source.set_output(True)
        assert (signal.frequency_hz, signal.power_dbm, signal.flows()) == (455_000.25, -60.5, True)
        assert source.output_is_on()

        assert source.make_safe().confirmed
        assert not signal.flows()
        source.close()


def test_a_setting_it_refuses_is_reported_in_its_own_words() -> None:
    """It answers nothing at all to the message; only its error queue knows why."""
    with serving(NAME, source_router(Signal())) as address:
        source = open_source(address, ceiling_dbm=0.0, timeout_s=SHORT_S)
        with pytest.raises(InstrumentError) as caught:
            source.set_frequency(2e9)
        # SCPI-99 volume 2 section 21.8: -222.
        assert (caught.value.code, caught.value.text) == (-222, "Data out of range")

        source.set_frequency(60e3)
        source.close()


def test_a_source_that_drops_the_link_over_a_setting_is_made_safe_over_a_new_one() -> None:
    """An exception in one of its handlers does that."""
    signal = Signal()
    router = source_router(signal)
    router.add_route("BREak", lambda context: 1 // 0)  # noqa: ARG005 - it wants the parameter
    with serving(NAME, router) as address:
        source = open_source(address, ceiling_dbm=0.0)
        source.set_power(-60.0)
        source.set_output(True)
        with pytest.raises(LinkLostError):
            source._instrument.command(":BREAK")  # noqa: SLF001 - no method of a source sends it
        assert signal.flows()

        assert source.make_safe().confirmed
        assert not signal.flows()
        source.close()


def test_a_meter_is_read_and_its_marks_are_told_apart() -> None:
    """9.9E37 and 9.91E37 as it formats them."""
    readings = iter(["1", "-1.25E-1", "9.90000000E+37", "9.91E37", "0"])
    with serving(NAME, meter_router(lambda: next(readings))) as address:
        meter = open_meter(address)
        assert meter.read_voltage() == -0.125
        with pytest.raises(OverloadError):
            meter.read_voltage()
        with pytest.raises(NotANumberError):
            meter.read_voltage()

        assert meter.read_voltage() == 0.0
        meter.close()


def test_a_meter_without_configure_is_asked_to_measure() -> None:
    """-110 Command header error, found in its queue after its silence."""
    with serving(NAME, old_meter_router(lambda: "0.5")) as address:
        meter = open_meter(address, timeout_s=SHORT_S)

        assert meter.read_voltage() == 0.5
        meter.close()


@pytest.mark.parametrize("has_gate", [True, False])
def test_a_counter_counts_with_its_gate_or_its_own(has_gate: bool) -> None:
    """The gate is the aperture where it has one."""
    signal = Signal(frequency_hz=2_799_999.75)
    with serving(NAME, counter_router(signal, has_gate=has_gate)) as address:
        counter = open_counter(address, timeout_s=SHORT_S)

        assert counter.read_frequency(0.1) == 2_799_999.75
        assert counter.gate_can_be_set is has_gate
        assert signal.gate_s == (0.1 if has_gate else 1.0)
        counter.close()


def test_a_meter_is_refused_as_a_source_and_a_source_as_a_meter() -> None:
    """By what they do not understand."""
    with serving(NAME, meter_router(lambda: "0")) as address, pytest.raises(WrongRoleError, match="as the source"):
        open_source(address, ceiling_dbm=0.0, timeout_s=SHORT_S)
    with serving(NAME, source_router(Signal())) as address, pytest.raises(WrongRoleError, match="as the meter"):
        open_meter(address, timeout_s=SHORT_S)
