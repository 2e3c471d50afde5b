"""Signal generators made safe: switched off, confirmed, and never reported so where they are not."""

import pytest

from drivers.errors import (
    LinkLostError,
    NotConnectedError,
    PowerNotSetError,
)
from tests.drivers.script import (
    NO_ERROR,
    Asks,
    GoesAway,
    HangsUp,
    Interrupted,
    Opens,
    Sends,
    Silent,
    expected_exchange,
    reopening,
    sets,
)
from tests.drivers.source_script import KNOWN, LEVELLED, OFF, levelled, opened
from tests.fakes import FakeClock


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
    steps = (*LEVELLED, HangsUp(":FREQ 1;*OPC?;:FREQ?;:SYST:ERR?"), *reopening(KNOWN), *OFF)
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
