"""Signal generators: the exact conversation, and above all when the output is off."""

import math

import pytest

from drivers.dialect import Model, SourceDialect
from drivers.errors import (
    CeilingError,
    InstrumentChangedError,
    InstrumentError,
    OutputStillOnError,
    PowerNotSetError,
    ReplyTimeoutError,
    SettingError,
    SettingNotTakenError,
    WrongRoleError,
)
from drivers.sources import source_on
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
from tests.drivers.source_script import KNOWN, LEVELLED, OFF, OPENING, levelled, opened, takes
from tests.fakes import FakeClock

# Opening


def test_a_source_is_off_once_it_is_open() -> None:
    """Told to be off, and asked whether it is."""
    with expected_exchange(*OPENING) as transport:
        source = opened(transport)

    assert (source.state, source.last_error, source.role) == ("ready", None, "source")
    assert str(source.identity) == "Peakwright Practice, Signal Source, 0, 1"


def test_an_unknown_instrument_shows_that_it_is_a_source_before_it_is_switched() -> None:
    """By answering for frequency, power and output."""
    steps = (*opening(), Asks(":FREQ?;:POW?;:OUTP?", "1E9;-20;1"), *OFF)
    with expected_exchange(*steps) as transport:
        opened(transport)


@pytest.mark.parametrize(
    "steps",
    [
        (Silent(":FREQ?;:POW?;:OUTP?"), *reopening(IDENTITY, '-113,"Undefined header;POW?"')),
        (Silent(":FREQ?;:POW?;:OUTP?"), *reopening()),
        (Asks(":FREQ?;:POW?;:OUTP?", "455000"),),
        (Asks(":FREQ?;:POW?;:OUTP?", "9.91E37;0;0"),),
    ],
)
def test_an_unknown_instrument_that_is_no_source_is_refused_and_not_switched(steps: tuple[Step, ...]) -> None:
    """It could be anything on the bench."""
    with expected_exchange(*opening(), *steps) as transport, pytest.raises(WrongRoleError) as caught:
        opened(transport)

    assert "Invented Works, Thing 1" in str(caught.value)
    assert not transport.is_ready()


def test_a_known_meter_is_refused_as_a_source_at_once() -> None:
    """One sentence says what the instrument says it is."""
    steps = opening("Peakwright Practice,Multimeter,0,1")
    with expected_exchange(*steps) as transport, pytest.raises(WrongRoleError) as caught:
        opened(transport)

    assert str(caught.value) == (
        f"The instrument at {transport.address} says it is 'Peakwright Practice, Multimeter, 0, 1' and cannot serve as "
        "the source: it is a meter. Give the address of the source."
    )


def test_a_source_that_does_not_switch_off_is_not_taken() -> None:
    """Not by OUTP OFF, and not by *RST."""
    steps = (*opening(KNOWN), sets(":OUTP OFF"), Asks(":OUTP?", "1"), sets("*RST"), Asks(":OUTP?", "1"))
    with expected_exchange(*steps) as transport, pytest.raises(OutputStillOnError, match="by hand"):
        opened(transport)


def test_a_source_with_words_of_its_own_is_a_few_lines_of_data() -> None:
    """The row gives what differs, and what puts it into a plain state."""
    row = Model(
        "Invented*",
        "thing ?",
        source=SourceDialect(frequency=":SOUR:FREQ:CW", power=":SOUR:POW", power_unit="", at_open=(":MOD:STAT OFF",)),
    )
    steps = (
        *opening(),
        *OFF,
        sets(":MOD:STAT OFF"),
        *OFF,
        takes(":SOUR:FREQ:CW 60000"),
        takes(":SOUR:POW -40"),
    )
    with expected_exchange(*steps) as transport:
        source = source_on(transport, ceiling_dbm=0.0, models=(row,), clock=FakeClock().now)
        source.set_frequency(60e3)
        source.set_power(-40.0)


# Settings


def test_frequency_power_and_output_are_one_message_each() -> None:
    """In hertz and dBm, the unit of power spelled out."""
    with expected_exchange(*LEVELLED, Asks(":OUTP?", "1")) as transport:
        assert levelled(transport).output_is_on()


def test_a_frequency_is_rounded_to_a_millihertz_and_never_cut() -> None:
    """1.005e6 as a product of floats lies under 1005000."""
    with expected_exchange(*OPENING, takes(":FREQ 1005000"), takes(":FREQ 60000.125")) as transport:
        source = opened(transport)
        source.set_frequency(1.005 * 1e6)
        source.set_frequency(60000.1251)


@pytest.mark.parametrize("frequency_hz", [0.0, -1.0, math.nan, math.inf])
def test_what_is_no_frequency_is_not_sent(frequency_hz: float) -> None:
    """Nothing goes out."""
    with expected_exchange(*OPENING) as transport, pytest.raises(SettingError):
        opened(transport).set_frequency(frequency_hz)


@pytest.mark.parametrize("power_dbm", [-19.9, 13.0])
def test_a_power_above_the_ceiling_is_not_sent(power_dbm: float) -> None:
    """Whoever asks for it."""
    with expected_exchange(*OPENING) as transport, pytest.raises(CeilingError) as caught:
        opened(transport, ceiling_dbm=-20.0).set_power(power_dbm)

    assert caught.value.ceiling_dbm == -20.0


@pytest.mark.parametrize("power_dbm", [math.nan, math.inf, -math.inf])
def test_what_is_no_power_is_not_sent(power_dbm: float) -> None:
    """Not a number is not below any ceiling."""
    with expected_exchange(*OPENING) as transport, pytest.raises(SettingError):
        opened(transport).set_power(power_dbm)


def test_the_ceiling_itself_is_allowed() -> None:
    """It is the most, not the first too much."""
    with expected_exchange(*OPENING, takes(":POW -20 DBM")) as transport:
        opened(transport, ceiling_dbm=-20.0).set_power(-20.0)


def test_the_output_is_never_switched_on_before_a_power_was_set() -> None:
    """What the source was left at is unknown."""
    with expected_exchange(*OPENING) as transport, pytest.raises(PowerNotSetError):
        opened(transport).set_output(True)


def test_the_output_stays_off_after_a_power_that_was_refused() -> None:
    """The old power may stand."""
    refused = (
        Asks(":POW -30 DBM;*OPC?;:POW?;:SYST:ERR?", '1;-60;-222,"Data out of range"'),
        Asks(":SYST:ERR?", NO_ERROR),
    )
    with expected_exchange(*OPENING, takes(":POW -60 DBM"), *refused) as transport:
        source = opened(transport)
        source.set_power(-60.0)
        with pytest.raises(InstrumentError):
            source.set_power(-30.0)
        with pytest.raises(PowerNotSetError):
            source.set_output(True)


# Losing the link


STANDING = (Asks(":FREQ?;:POW?;:OUTP?", "455000;-60;1"),)


def test_a_source_that_stands_as_it_was_left_goes_on_after_reopening() -> None:
    """It only dropped the connection."""
    steps = (*LEVELLED, GoesAway(), *reopening(KNOWN), *STANDING, takes(":FREQ 456000"))
    with expected_exchange(*steps) as transport:
        levelled(transport).set_frequency(456e3)


@pytest.mark.parametrize(("power_dbm", "stands"), [(-60.09, True), (-59.91, True), (-60.11, False), (-59.89, False)])
def test_after_reopening_a_power_may_differ_by_what_a_source_rounds_and_no_more(power_dbm: float, stands: bool) -> None:
    """A tenth of a decibel, which is coarser than any source's step; common practice, no source."""
    says = (Asks(":FREQ?;:POW?;:OUTP?", f"455000;{power_dbm};1"),)
    after = (takes(":FREQ 456000"),) if stands else (sets(":OUTP OFF"),)
    with expected_exchange(*LEVELLED, GoesAway(), *reopening(KNOWN), *says, *after) as transport:
        source = levelled(transport)
        if stands:
            source.set_frequency(456e3)
        else:
            with pytest.raises(InstrumentChangedError, match="power was -60 dBm"):
                source.set_frequency(456e3)


def test_a_setting_whose_answer_was_late_is_not_held_against_the_source() -> None:
    """Whether the frequency moved is unknown, and it is about to be set again."""
    late = Silent(":FREQ 456000;*OPC?;:FREQ?;:SYST:ERR?")
    moved = (Asks(":FREQ?;:POW?;:OUTP?", "456000;-60;1"),)
    with expected_exchange(*LEVELLED, late, *reopening(KNOWN), *moved, takes(":FREQ 456000")) as transport:
        source = levelled(transport)
        with pytest.raises(ReplyTimeoutError):
            source.set_frequency(456e3)
        source.set_frequency(456e3)


def test_a_switch_whose_answer_was_late_is_not_held_against_the_source() -> None:
    """Whether the output came on is unknown, and it is about to be switched again."""
    standing = (Asks(":FREQ?;:POW?;:OUTP?", "1E9;-60;1"),)
    steps = (
        *OPENING,
        takes(":POW -60 DBM"),
        Silent(":OUTP ON;*OPC?;:OUTP?;:SYST:ERR?"),
        *reopening(KNOWN),
        *standing,
        takes(":OUTP ON"),
    )
    with expected_exchange(*steps) as transport:
        source = opened(transport)
        source.set_power(-60.0)
        with pytest.raises(ReplyTimeoutError):
            source.set_output(True)
        source.set_output(True)


@pytest.mark.parametrize(
    ("standing", "change"),
    [
        ((Asks(":FREQ?;:POW?;:OUTP?", "455000;-60;0"),), "output was on and is now off"),
        ((Asks(":FREQ?;:POW?;:OUTP?", "455000;-20;1"),), "power was -60 dBm and is now -20 dBm"),
    ],
)
def test_a_source_that_was_reset_meanwhile_is_switched_off_and_ends_the_run(
    standing: tuple[Step, ...], change: str
) -> None:
    """A sweep over a source that lost its settings would measure nothing, or too much."""
    steps = (*LEVELLED, GoesAway(), *reopening(KNOWN), *standing, sets(":OUTP OFF"))
    with expected_exchange(*steps) as transport:
        source = levelled(transport)
        with pytest.raises(InstrumentChangedError, match=change):
            source.set_frequency(456e3)
        with pytest.raises(PowerNotSetError):
            source.set_output(True)


def test_a_source_whose_frequency_was_turned_meanwhile_ends_the_run() -> None:
    """When the next thing is not a frequency."""
    standing = (Asks(":FREQ?;:POW?;:OUTP?", "1E9;-60;1"),)
    steps = (*LEVELLED, GoesAway(), *reopening(KNOWN), *standing, sets(":OUTP OFF"))
    with expected_exchange(*steps) as transport, pytest.raises(InstrumentChangedError, match="frequency was"):
        levelled(transport).set_power(-50.0)


# State is asked, not believed


def test_a_setting_is_asked_back_in_the_same_round_trip() -> None:
    """A source that says that it is elsewhere ends the run, though it complained of nothing."""
    told = pytest.raises(SettingNotTakenError, match=r"told 455000 Hz and says 1000000 Hz")
    with expected_exchange(*OPENING, takes(":FREQ 455000", "1E6")) as transport, told:
        opened(transport).set_frequency(455e3)


def test_a_source_that_gives_another_power_than_told_is_switched_off() -> None:
    """It may be more."""
    steps = (*OPENING, takes(":POW -60 DBM", "-20"), sets(":OUTP OFF"))
    with expected_exchange(*steps) as transport:
        source = opened(transport)
        with pytest.raises(SettingNotTakenError, match="told -60 dBm and says -20 dBm"):
            source.set_power(-60.0)
        with pytest.raises(PowerNotSetError):
            source.set_output(True)


def test_a_source_that_does_not_switch_says_so() -> None:
    """It took the command without complaint."""
    with expected_exchange(*OPENING, takes(":POW -60 DBM"), takes(":OUTP ON", "0")) as transport:
        source = opened(transport)
        source.set_power(-60.0)
        with pytest.raises(SettingNotTakenError, match="told output on and says output off"):
            source.set_output(True)


def watched(message: str, standing: str) -> Asks:
    """A setting that asks first whether all is as it was left."""
    header, _, value = message.partition(" ")
    return Asks(f":FREQ?;:POW?;:OUTP?;{message};*OPC?;{header}?;:SYST:ERR?", f'{standing};1;{value};0,"No error"')


def test_with_a_setting_the_source_is_asked_whether_all_is_as_it_was_left() -> None:
    """Where it has not been asked a moment ago."""
    clock = FakeClock()
    steps = (*LEVELLED, takes(":FREQ 456000"), watched(":FREQ 457000", "456000;-60;1"))
    with expected_exchange(*steps) as transport:
        source = levelled(transport, clock)
        source.set_frequency(456e3)
        clock.sleep(0.1)
        source.set_frequency(457e3)


@pytest.mark.parametrize(
    ("standing", "change"),
    [
        ("455000;-60;0", "output was on and is now off"),
        ("455000;-20;1", "power was -60 dBm and is now -20 dBm"),
        ("1E9;-60;1", "frequency was 455000 Hz and is now 1000000000 Hz"),
    ],
)
def test_what_somebody_else_changed_at_the_source_ends_the_run_with_its_output_off(standing: str, change: str) -> None:
    """At the front panel, or from another program."""
    clock = FakeClock()
    with expected_exchange(*LEVELLED, watched(":FREQ 456000", standing), sets(":OUTP OFF")) as transport:
        source = levelled(transport, clock)
        clock.sleep(0.1)
        with pytest.raises(InstrumentChangedError, match=change):
            source.set_frequency(456e3)
        with pytest.raises(PowerNotSetError):
            source.set_output(True)


def test_a_source_can_be_asked_whether_it_stands_as_it_was_left() -> None:
    """While only the meter is read; not again before its word has grown old."""
    clock = FakeClock()
    steps = (*LEVELLED, *STANDING, Asks(":FREQ?;:POW?;:OUTP?", "455000;-60;0"), sets(":OUTP OFF"))
    with expected_exchange(*steps) as transport:
        source = levelled(transport, clock)
        clock.sleep(2.0)
        source.check_standing(believed_s=1.0)
        source.check_standing(believed_s=1.0)
        clock.sleep(2.0)
        with pytest.raises(InstrumentChangedError, match="output was on and is now off"):
            source.check_standing(believed_s=1.0)


def test_a_source_that_was_left_alone_is_not_asked() -> None:
    """There is nothing to compare."""
    with expected_exchange(*OPENING, *OFF) as transport:
        source = opened(transport)
        source.make_safe()
