"""Signal generators: the exact conversation, and above all when the output is off."""

import math

import pytest

from drivers.catalog import Model, SourceDialect
from drivers.errors import (
    CeilingError,
    InstrumentChangedError,
    InstrumentError,
    LinkLostError,
    NotConnectedError,
    OutputStillOnError,
    PowerNotSetError,
    ReplyTimeoutError,
    SettingError,
    WrongRoleError,
)
from drivers.sources import Source, source_on
from tests.drivers.script import (
    IDENTITY,
    NO_ERROR,
    Asks,
    GoesAway,
    HangsUp,
    Interrupted,
    Opens,
    ScriptedTransport,
    Sends,
    Silent,
    Step,
    expected_exchange,
    opening,
    reopening,
    sets,
)
from tests.fakes import FakeClock

KNOWN = "Peakwright Practice,Signal Source,0,1"
OFF = (sets(":OUTP OFF"), Asks(":OUTP?", "0"))
OPENING: tuple[Step, ...] = (*opening(KNOWN), *OFF)
LEVELLED = (*OPENING, sets(":FREQ 455000"), sets(":POW -60 DBM"), sets(":OUTP ON"))


def opened(transport: ScriptedTransport, clock: FakeClock | None = None, ceiling_dbm: float = -20.0) -> Source:
    """A source that has just been opened."""
    clock = clock or FakeClock()
    return source_on(transport, ceiling_dbm=ceiling_dbm, clock=clock.now, sleep=clock.sleep)


def levelled(transport: ScriptedTransport, clock: FakeClock | None = None) -> Source:
    """A source that gives -60 dBm at 455 kHz."""
    source = opened(transport, clock)
    source.set_frequency(455e3)
    source.set_power(-60.0)
    source.set_output(True)
    return source


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
        sets(":SOUR:FREQ:CW 60000"),
        sets(":SOUR:POW -40"),
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
    with expected_exchange(*OPENING, sets(":FREQ 1005000"), sets(":FREQ 60000.125")) as transport:
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
    with expected_exchange(*OPENING, sets(":POW -20 DBM")) as transport:
        opened(transport, ceiling_dbm=-20.0).set_power(-20.0)


def test_the_output_is_never_switched_on_before_a_power_was_set() -> None:
    """What the source was left at is unknown."""
    with expected_exchange(*OPENING) as transport, pytest.raises(PowerNotSetError):
        opened(transport).set_output(True)


def test_the_output_stays_off_after_a_power_that_was_refused() -> None:
    """The old power may stand."""
    refused = (sets(":POW -30 DBM", '1;-222,"Data out of range"'), Asks(":SYST:ERR?", NO_ERROR))
    with expected_exchange(*OPENING, sets(":POW -60 DBM"), *refused) as transport:
        source = opened(transport)
        source.set_power(-60.0)
        with pytest.raises(InstrumentError):
            source.set_power(-30.0)
        with pytest.raises(PowerNotSetError):
            source.set_output(True)


# Losing the link


STANDING = (Asks(":FREQ?;:POW?", "455000;-60"), Asks(":OUTP?", "1"))


def test_a_source_that_stands_as_it_was_left_goes_on_after_reopening() -> None:
    """It only dropped the connection."""
    steps = (*LEVELLED, GoesAway(), *reopening(KNOWN), *STANDING, sets(":FREQ 456000"))
    with expected_exchange(*steps) as transport:
        levelled(transport).set_frequency(456e3)


def test_a_setting_whose_answer_was_late_is_not_held_against_the_source() -> None:
    """Whether the frequency moved is unknown, and it is about to be set again."""
    late = Silent(":FREQ 456000;*OPC?;:SYST:ERR?")
    moved = (Asks(":FREQ?;:POW?", "456000;-60"), Asks(":OUTP?", "1"))
    with expected_exchange(*LEVELLED, late, *reopening(KNOWN), *moved, sets(":FREQ 456000")) as transport:
        source = levelled(transport)
        with pytest.raises(ReplyTimeoutError):
            source.set_frequency(456e3)
        source.set_frequency(456e3)


def test_a_switch_whose_answer_was_late_is_not_held_against_the_source() -> None:
    """Whether the output came on is unknown, and it is about to be switched again."""
    standing = (Asks(":FREQ?;:POW?", "1E9;-60"), Asks(":OUTP?", "1"))
    steps = (
        *OPENING,
        sets(":POW -60 DBM"),
        Silent(":OUTP ON;*OPC?;:SYST:ERR?"),
        *reopening(KNOWN),
        *standing,
        sets(":OUTP ON"),
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
        ((Asks(":FREQ?;:POW?", "455000;-60"), Asks(":OUTP?", "0")), "output was on and is now off"),
        ((Asks(":FREQ?;:POW?", "455000;-20"), Asks(":OUTP?", "1")), "power was -60 dBm and is now -20 dBm"),
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
    standing = (Asks(":FREQ?;:POW?", "1E9;-60"), Asks(":OUTP?", "1"))
    steps = (*LEVELLED, GoesAway(), *reopening(KNOWN), *standing, sets(":OUTP OFF"))
    with expected_exchange(*steps) as transport, pytest.raises(InstrumentChangedError, match="frequency was"):
        levelled(transport).set_power(-50.0)


# Making safe


def test_making_safe_switches_off_and_is_confirmed() -> None:
    """By the source itself."""
    with expected_exchange(*LEVELLED, *OFF) as transport:
        report = levelled(transport).make_safe()

    assert report.confirmed


def test_after_making_safe_the_power_must_be_set_anew() -> None:
    """Before the output can come on."""
    with expected_exchange(*LEVELLED, *OFF) as transport:
        source = levelled(transport)
        source.make_safe()
        with pytest.raises(PowerNotSetError):
            source.set_output(True)


def test_making_safe_reopens_a_lost_link() -> None:
    """And switches off before it asks for anything it does not need to know."""
    steps = (*LEVELLED, HangsUp(":FREQ 1;*OPC?;:SYST:ERR?"), *reopening(KNOWN), *OFF)
    with expected_exchange(*steps) as transport:
        source = levelled(transport)
        with pytest.raises(LinkLostError):
            source.set_frequency(1.0)
        report = source.make_safe()

    assert report.confirmed


def test_making_safe_waits_and_tries_again_while_nobody_answers() -> None:
    """Three times, with the pauses of the link."""
    clock = FakeClock()
    refused = Opens(fails="connection refused")
    steps = (*LEVELLED, GoesAway(), refused, refused, *reopening(KNOWN), *OFF)
    with expected_exchange(*steps) as transport:
        report = levelled(transport, clock).make_safe()

    assert report.confirmed
    assert clock.slept_s == pytest.approx(0.2 + 0.4)


def test_making_safe_does_not_wait_for_the_pause_of_earlier_failures() -> None:
    """The pauses have grown to seconds by then."""
    clock = FakeClock()
    refused = Opens(fails="connection refused")
    steps = (*LEVELLED, GoesAway(), refused, refused, refused, *reopening(KNOWN), *OFF)
    with expected_exchange(*steps) as transport:
        source = levelled(transport, clock)
        for _ in range(3):
            clock.sleep(1.0)
            with pytest.raises(NotConnectedError):
                source.set_frequency(456e3)
        clock.slept_s = 0.0
        assert source.make_safe().confirmed

    assert clock.slept_s == 0.0


def test_a_source_that_refuses_output_off_is_reset() -> None:
    """SCPI-99 volume 2 chapter 15 (from memory): after *RST the output is off."""
    refusal = (sets(":OUTP OFF", '1;-200,"Execution error"'), Asks(":SYST:ERR?", NO_ERROR), Asks(":OUTP?", "1"))
    with expected_exchange(*LEVELLED, *refusal, sets("*RST"), Asks(":OUTP?", "0")) as transport:
        report = levelled(transport).make_safe()

    assert report.confirmed


def test_a_source_that_is_silent_about_switching_off_but_says_that_it_is_off_is_off() -> None:
    """What counts is what it says of its output."""
    silent = (Silent(":OUTP OFF;*OPC?;:SYST:ERR?"), *reopening(KNOWN), Asks(":OUTP?", "0"))
    with expected_exchange(*LEVELLED, *silent) as transport:
        assert levelled(transport).make_safe().confirmed


def test_a_ctrl_c_before_a_stranger_is_met_is_not_lost() -> None:
    """It is raised again even so."""
    steps = (
        *LEVELLED,
        Interrupted(":OUTP OFF;*OPC?;:SYST:ERR?"),
        Opens(),
        Asks("*IDN?", "Other Works,Thing 2,0,1"),
    )
    with expected_exchange(*steps) as transport:
        source = levelled(transport)
        with pytest.raises(KeyboardInterrupt):
            source.make_safe()


def test_a_source_that_never_answers_again_is_told_to_switch_off_all_the_same() -> None:
    """And the person is told to look."""
    silent = (Opens(), Silent("*IDN?"))
    steps = (*LEVELLED, GoesAway(), *silent, *silent, *silent, Opens(), Sends(":OUTP OFF"))
    with expected_exchange(*steps) as transport:
        report = levelled(transport).make_safe()

    assert not report.confirmed
    assert "did not confirm it: switch its output off by hand." in report.text


def test_a_source_that_cannot_be_reached_at_all_is_reported_and_raises_nothing() -> None:
    """Making safe is the last thing of every run; it must not hide how the run ended."""
    refused = Opens(fails="no route to host")
    with expected_exchange(*LEVELLED, GoesAway(), refused, refused, refused, refused) as transport:
        report = levelled(transport).make_safe()

    assert not report.confirmed
    assert "no route to host" in report.text
    assert "could not be told to switch off" in report.text


def test_a_stranger_at_the_address_of_the_source_is_not_switched() -> None:
    """It may be a power supply."""
    steps = (*LEVELLED, GoesAway(), Opens(), Asks("*IDN?", "Other Works,Thing 2,0,1"))
    with expected_exchange(*steps) as transport:
        report = levelled(transport).make_safe()

    assert not report.confirmed
    assert "Other Works" in report.text


def test_a_source_that_says_it_is_on_is_never_reported_safe() -> None:
    """Tried three times by both messages, and then once more."""
    deaf = (sets(":OUTP OFF"), Asks(":OUTP?", "1"), sets("*RST"), Asks(":OUTP?", "1"))
    with expected_exchange(*LEVELLED, *deaf, *deaf, *deaf, Opens(), Sends(":OUTP OFF")) as transport:
        report = levelled(transport).make_safe()

    assert not report.confirmed


def test_a_ctrl_c_while_making_safe_does_not_leave_the_output_on() -> None:
    """The interruption is raised again, after the output was seen to."""
    steps = (*LEVELLED, Interrupted(":OUTP OFF;*OPC?;:SYST:ERR?"), *reopening(KNOWN), *OFF)
    with expected_exchange(*steps) as transport:
        source = levelled(transport)
        with pytest.raises(KeyboardInterrupt):
            source.make_safe()


def test_closing_switches_off_and_drops_the_link() -> None:
    """The last thing on the wire."""
    with expected_exchange(*LEVELLED, *OFF) as transport:
        source = levelled(transport)
        source.close()

        assert source.state == "lost"


def test_a_source_that_is_not_there_is_reported_with_its_address() -> None:
    """As one sentence."""
    with expected_exchange(Opens(fails="connection refused")) as transport, pytest.raises(NotConnectedError) as caught:
        opened(transport)

    assert str(caught.value) == (
        f"No instrument answers at {transport.address}: connection refused. Is it switched on and plugged in?"
    )
