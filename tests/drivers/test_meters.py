"""Voltmeters: the exact conversation."""

import pytest

from drivers.dialect import MeterDialect, Model, Way
from drivers.errors import NotANumberError, OverloadError, WrongRoleError
from drivers.meters import meter_on
from tests.drivers.script import (
    IDENTITY,
    NO_ERROR,
    Asks,
    GoesAway,
    Silent,
    Step,
    expected_exchange,
    opening,
    reopening,
    sets,
)
from tests.fakes import FakeClock

KNOWN = "Peakwright Practice,Multimeter,0,1"
REFUSED = Asks(":SYST:ERR?", NO_ERROR)


@pytest.mark.parametrize("identity", [KNOWN, IDENTITY])
@pytest.mark.parametrize(("function", "header"), [("dc", ":CONF:VOLT:DC"), ("ac", ":CONF:VOLT:AC")])
def test_a_meter_is_configured_once_and_then_only_read(identity: str, function: str, header: str) -> None:
    """SCPI-99 volume 2 chapter 3 (from memory): CONFigure, then READ?."""
    readings = (*[Asks(":READ?", "+1.234567E-01")] * 2, Asks(":READ?", "-0.5"))
    with expected_exchange(*opening(identity), sets(header), *readings) as transport:
        meter = meter_on(transport, function=function, clock=FakeClock().now)

        assert [meter.read_voltage(), meter.read_voltage()] == [0.1234567, -0.5]


@pytest.mark.parametrize(
    "refusal",
    [
        (sets(":CONF:VOLT:DC", '1;-113,"Undefined header;CONF"'), REFUSED),
        (Silent(":CONF:VOLT:DC;*OPC?;:SYST:ERR?"), *reopening(IDENTITY, '-113,"Undefined header;CONF"')),
        (Silent(":CONF:VOLT:DC;*OPC?;:SYST:ERR?"), *reopening()),
    ],
)
def test_a_meter_that_refuses_configure_is_asked_to_measure(refusal: tuple[Step, ...]) -> None:
    """MEASure? does both at once, each time."""
    with expected_exchange(*opening(), *refusal, *[Asks(":MEAS:VOLT:DC?", "0.25")] * 2) as transport:
        meter = meter_on(transport, clock=FakeClock().now)

        assert meter.read_voltage() == 0.25


def test_a_meter_that_is_overloaded_while_it_is_tried_is_a_meter_all_the_same() -> None:
    """Something too large is connected to it."""
    tried = (sets(":CONF:VOLT:DC", '1;-113,"Undefined header"'), REFUSED, Asks(":MEAS:VOLT:DC?", "9.9E37"))
    with expected_exchange(*opening(), *tried, Asks(":MEAS:VOLT:DC?", "1")) as transport:
        assert meter_on(transport, clock=FakeClock().now).read_voltage() == 1.0


def test_an_instrument_that_does_not_measure_volts_is_refused_as_a_meter() -> None:
    """The sentence gives its reasons."""
    steps = (
        sets(":CONF:VOLT:DC", '1;-113,"Undefined header"'),
        REFUSED,
        Silent(":MEAS:VOLT:DC?"),
        *reopening(),
    )
    with expected_exchange(*opening(), *steps) as transport, pytest.raises(WrongRoleError) as caught:
        meter_on(transport, clock=FakeClock().now)

    assert str(caught.value) == (
        f"The instrument at {transport.address} says it is 'Invented Works, Thing 1, 0, 1' and cannot serve as the "
        "meter: it refuses :CONF:VOLT:DC with -113 Undefined header; it does not answer :MEAS:VOLT:DC?. "
        "Give the address of the meter."
    )


@pytest.mark.parametrize(
    ("reply", "error", "advice"),
    [("9.9E37", OverloadError, "lower the level"), ("9.91E37", NotANumberError, "is there a signal")],
)
def test_a_mark_is_not_a_voltage(reply: str, error: type[Exception], advice: str) -> None:
    """SCPI-99 volume 1 section 7.2.1."""
    with expected_exchange(*opening(KNOWN), sets(":CONF:VOLT:DC"), *[Asks(":READ?", reply)] * 2) as transport:
        meter = meter_on(transport, clock=FakeClock().now)
        with pytest.raises(error, match=advice):
            meter.read_voltage()


def test_a_meter_that_came_back_is_configured_before_it_is_read() -> None:
    """It may have been switched off and on, and read something else by now."""
    steps = (
        *opening(KNOWN),
        sets(":CONF:VOLT:DC"),
        Asks(":READ?", "1"),
        GoesAway(),
        *reopening(KNOWN),
        sets(":CONF:VOLT:DC"),
        Asks(":READ?", "1"),
    )
    with expected_exchange(*steps) as transport:
        assert meter_on(transport, clock=FakeClock().now).read_voltage() == 1.0


def test_a_function_nobody_has_is_refused() -> None:
    """Before anything is sent for it."""
    with expected_exchange(*opening(KNOWN)) as transport, pytest.raises(WrongRoleError, match="'ohms'"):
        meter_on(transport, function="ohms", clock=FakeClock().now)


def test_a_meter_with_words_of_its_own_is_a_few_lines_of_data() -> None:
    """Here a slow filter, and a fetch instead of a read."""
    row = Model("Invented Works", "Thing 1", meter=MeterDialect({"dc": (Way(":FUNC 'VOLT'", ":FETC?"),)}, (":FILT 1",)))
    steps = (*opening(), sets(":FILT 1"), sets(":FUNC 'VOLT'"), *[Asks(":FETC?", "2")] * 2)
    with expected_exchange(*steps) as transport:
        assert meter_on(transport, models=(row,), clock=FakeClock().now).read_voltage() == 2.0


@pytest.mark.parametrize(
    "refused",
    [
        (Silent(":READ?"), *reopening(IDENTITY, '-113,"Undefined header;READ?"')),
        (Silent(":READ?"), *reopening()),
        (Asks(":READ?", "VOLT:DC"),),
    ],
)
def test_a_meter_that_takes_configure_and_knows_no_read_is_asked_to_measure(refused: tuple[Step, ...]) -> None:
    """A way is tried with a reading: it would be "ready", and every reading fail."""
    measured = [Asks(":MEAS:VOLT:DC?", "0.25")] * 2
    reopened = reopening() if isinstance(refused[0], Asks) else ()
    with expected_exchange(*opening(), sets(":CONF:VOLT:DC"), *refused, *reopened, *measured) as transport:
        assert meter_on(transport, clock=FakeClock().now).read_voltage() == 0.25
