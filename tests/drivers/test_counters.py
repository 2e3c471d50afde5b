"""Frequency counters: the exact conversation."""

import math

import pytest

from drivers.counters import Counter, counter_on
from drivers.dialect import CounterDialect, Model, Way
from drivers.errors import InstrumentError, NotANumberError, ReplyTimeoutError, SettingError, WrongRoleError
from tests.drivers.script import (
    NO_ERROR,
    Asks,
    GoesAway,
    ScriptedTransport,
    Silent,
    Step,
    expected_exchange,
    opening,
    reopening,
    sets,
)
from tests.fakes import FakeClock

KNOWN = "Peakwright Practice,Frequency Counter,0,1"
OPENING: tuple[Step, ...] = (*opening(KNOWN), sets(":CONF:FREQ"))


def opened(transport: ScriptedTransport, models: tuple[Model, ...] | None = None) -> Counter:
    """A counter that has just been opened."""
    if models is None:
        return counter_on(transport, clock=FakeClock().now)
    return counter_on(transport, models=models, clock=FakeClock().now)


def test_the_gate_is_set_when_it_changes_and_the_deadline_allows_for_it() -> None:
    """The aperture is the gate time; a ten-second gate is not a timeout."""
    steps = (
        *OPENING,
        sets(":SENS:FREQ:APER 0.1"),
        Asks(":READ?", "2.8E+06"),
        Asks(":READ?", "2800000.1"),
        sets(":SENS:FREQ:APER 10"),
        Asks(":READ?", "2800000.05"),
    )
    with expected_exchange(*steps) as transport:
        counter = opened(transport)

        assert [counter.read_frequency(0.1), counter.read_frequency(0.1)] == [2.8e6, 2800000.1]
        assert counter.read_frequency(10.0) == 2800000.05
    assert transport.deadlines_s[-1] > 10.0
    assert counter.gate_can_be_set


def test_a_counter_without_a_gate_setting_counts_for_its_own_time() -> None:
    """Its header is unknown to it; that is asked once."""
    refused = (sets(":SENS:FREQ:APER 1", '1;-113,"Undefined header"'), Asks(":SYST:ERR?", NO_ERROR))
    with expected_exchange(*OPENING, *refused, Asks(":READ?", "1000"), Asks(":READ?", "1001")) as transport:
        counter = opened(transport)

        assert [counter.read_frequency(1.0), counter.read_frequency(2.0)] == [1000.0, 1001.0]
    assert not counter.gate_can_be_set


def test_a_gate_beyond_the_counters_range_is_refused_not_ignored() -> None:
    """The resolution asked for would not be there."""
    refused = (sets(":SENS:FREQ:APER 1000", '1;-222,"Data out of range"'), Asks(":SYST:ERR?", NO_ERROR))
    with expected_exchange(*OPENING, *refused) as transport, pytest.raises(InstrumentError, match="out of range"):
        opened(transport).read_frequency(1000.0)


@pytest.mark.parametrize("gate_s", [0.0, -1.0, math.nan, math.inf])
def test_what_is_no_gate_time_is_not_sent(gate_s: float) -> None:
    """Nothing goes out."""
    with expected_exchange(*OPENING) as transport, pytest.raises(SettingError):
        opened(transport).read_frequency(gate_s)


def test_a_counter_that_came_back_has_its_gate_again() -> None:
    """Configuring resets the gate, so it is set after it."""
    steps = (
        *OPENING,
        sets(":SENS:FREQ:APER 0.1"),
        Asks(":READ?", "1"),
        GoesAway(),
        *reopening(KNOWN),
        sets(":CONF:FREQ"),
        sets(":SENS:FREQ:APER 0.1"),
        Asks(":READ?", "2"),
    )
    with expected_exchange(*steps) as transport:
        counter = opened(transport)

        assert [counter.read_frequency(0.1), counter.read_frequency(0.1)] == [1.0, 2.0]


def test_a_gate_whose_setting_was_lost_is_set_again() -> None:
    """Even if it is the one from before: which of the two stands is unknown."""
    steps = (
        *OPENING,
        sets(":SENS:FREQ:APER 1"),
        Asks(":READ?", "1"),
        Silent(":SENS:FREQ:APER 0.1;*OPC?;:SYST:ERR?"),
        *reopening(KNOWN),
        sets(":CONF:FREQ"),
        sets(":SENS:FREQ:APER 1"),
        Asks(":READ?", "2"),
    )
    with expected_exchange(*steps) as transport:
        counter = opened(transport)
        counter.read_frequency(1.0)
        with pytest.raises(ReplyTimeoutError):
            counter.read_frequency(0.1)

        assert counter.read_frequency(1.0) == 2.0


def test_a_counter_without_a_signal_has_no_reading() -> None:
    """SCPI-99 volume 1 section 7.2.1: 9.91E37 is not a number."""
    steps = (*OPENING, sets(":SENS:FREQ:APER 1"), Asks(":READ?", "9.91E37"))
    with expected_exchange(*steps) as transport, pytest.raises(NotANumberError):
        opened(transport).read_frequency(1.0)


def test_a_counter_that_refuses_configure_is_asked_to_measure_and_keeps_its_own_gate() -> None:
    """Measuring would undo a gate each time."""
    refused = (sets(":CONF:FREQ", '1;-113,"Undefined header"'), Asks(":SYST:ERR?", NO_ERROR))
    with expected_exchange(*opening(), *refused, *[Asks(":MEAS:FREQ?", "60000")] * 2) as transport:
        counter = opened(transport)

        assert counter.read_frequency(1.0) == 60000.0
        assert not counter.gate_can_be_set


def test_an_instrument_that_does_not_count_is_refused_as_a_counter() -> None:
    """With its own reasons."""
    refused = (sets(":CONF:FREQ", '1;-113,"Undefined header"'), Asks(":SYST:ERR?", NO_ERROR))
    steps = (*opening(), *refused, Silent(":MEAS:FREQ?"), *reopening())
    with expected_exchange(*steps) as transport, pytest.raises(WrongRoleError, match="counter"):
        opened(transport)


def test_a_known_source_is_refused_as_a_counter_at_once() -> None:
    """Without trying its words."""
    steps = opening("Peakwright Practice,Signal Source,0,1")
    with expected_exchange(*steps) as transport, pytest.raises(WrongRoleError, match="it is a source"):
        opened(transport)


def test_a_counter_with_words_of_its_own_is_a_few_lines_of_data() -> None:
    """Here the gate has another name and a preset comes first."""
    dialect = CounterDialect((Way(":CONF:FREQ (@1)", ":READ?"),), ":FREQ:GATE:TIME", ("*RST",))
    steps = (
        *opening(),
        sets("*RST"),
        sets(":CONF:FREQ (@1)"),
        sets(":FREQ:GATE:TIME 0.5"),
        Asks(":READ?", "5"),
    )
    with expected_exchange(*steps) as transport:
        assert opened(transport, (Model("Invented Works", "*", counter=dialect),)).read_frequency(0.5) == 5.0


def test_a_counter_that_takes_configure_and_knows_no_read_is_asked_to_measure() -> None:
    """Found out with the first reading: before, there may be nothing to count."""
    put_right = (sets(":CONF:FREQ"), sets(":SENS:FREQ:APER 1"))
    refused = (Silent(":READ?"), *reopening(KNOWN, '-113,"Undefined header;READ?"'), *put_right)
    steps = (*OPENING, sets(":SENS:FREQ:APER 1"), *refused, Asks(":MEAS:FREQ?", "455000"))
    with expected_exchange(*steps) as transport:
        assert opened(transport).read_frequency(1.0) == 455e3
