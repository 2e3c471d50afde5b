"""The conversation with one instrument, message by message."""

import pytest

from drivers.errors import (
    GarbledReplyError,
    InstrumentChangedError,
    InstrumentError,
    LinkLostError,
    NotANumberError,
    NotConnectedError,
    OverloadError,
    ReplyTimeoutError,
)
from drivers.identity import Identity, parse_identity
from drivers.instrument import MOST_ERRORS, Instrument
from drivers.scpi import ErrorEntry
from tests.drivers.script import (
    IDENTITY,
    NO_ERROR,
    Asks,
    GoesAway,
    HangsUp,
    Interrupted,
    Noise,
    Opens,
    ScriptedTransport,
    Sends,
    Silent,
    expected_exchange,
    opening,
    reopening,
    sets,
)
from tests.fakes import FakeClock


def opened(transport: ScriptedTransport, clock: FakeClock | None = None) -> Instrument:
    """An instrument that has just been opened."""
    instrument = Instrument(transport, timeout_s=2.0, clock=(clock or FakeClock()).now)
    instrument.open()
    return instrument


# Opening


def test_opening_asks_who_is_there_and_tries_a_compound_message() -> None:
    """Two round trips, and nothing else."""
    with expected_exchange(*opening("Invented Works, Thing 1 ,17,2.0")) as transport:
        instrument = opened(transport)

    assert instrument.identity == Identity("Invented Works", "Thing 1", "17", "2.0")
    assert instrument.is_ready


@pytest.mark.parametrize(
    ("reply", "identity"),
    [
        # IEEE 488.2 section 10.14: maker, model, serial number, firmware; "0" where one is not known.
        ("A,B,0,1.2", Identity("A", "B", "0", "1.2")),
        ("A,B", Identity("A", "B")),
        ("A,B,1,2,3", Identity("A", "B", "1", "2,3")),
        ("1.25E-03", None),
        ("", None),
        ("A,", None),
    ],
)
def test_an_identity_has_at_least_a_maker_and_a_model(reply: str, identity: Identity | None) -> None:
    """So that a late number is not taken for a name."""
    assert parse_identity(reply) == identity


def test_an_instrument_that_takes_the_connection_but_does_not_answer_is_not_connected() -> None:
    """One that serves one client at a time looks like this to the second."""
    with expected_exchange(Opens(), Silent("*IDN?")) as transport, pytest.raises(NotConnectedError, match="another"):
        opened(transport)


def test_an_instrument_that_names_itself_with_a_number_is_not_taken() -> None:
    """Nor one that goes on doing so after its line was cleared."""
    steps = (Opens(), Asks("*IDN?", "1.5")) * 3
    with expected_exchange(*steps) as transport, pytest.raises(GarbledReplyError):
        opened(transport)


@pytest.mark.parametrize("late", ["1.5", '1;0,"No error"', "113;1.5;113"])
def test_an_answer_to_a_question_of_before_is_not_taken_for_the_name(late: str) -> None:
    """On a serial line a late answer may arrive first: the line is cleared, and the name asked for again."""
    with expected_exchange(Opens(), Asks("*IDN?", late), *opening()) as transport:
        instrument = opened(transport)

    assert instrument.identity.maker == "Invented Works"


def test_errors_that_others_left_in_the_queue_are_not_blamed_on_us() -> None:
    """*CLS empties it; an instrument that ignores *CLS is read empty."""
    steps = (
        Opens(),
        Asks("*IDN?", IDENTITY),
        Asks("*CLS;*OPC?;:SYST:ERR?", '1;-113,"Undefined header;*CLS"'),
        Opens(),
        Asks("*IDN?", IDENTITY),
        Sends("*CLS"),
        Asks("*OPC?", "1"),
        Asks(":SYST:ERR?", '-222,"Data out of range"'),
        Asks(":SYST:ERR?", NO_ERROR),
    )
    with expected_exchange(*steps) as transport:
        opened(transport)


SPLITS_LINES = (
    Opens(),
    Asks("*IDN?", IDENTITY),
    Silent("*CLS;*OPC?;:SYST:ERR?"),
    Opens(),
    Asks("*IDN?", IDENTITY),
    Sends("*CLS"),
    Asks("*OPC?", "1"),
    Asks(":SYST:ERR?", NO_ERROR),
)


def test_an_instrument_that_takes_one_command_a_line_is_asked_singly() -> None:
    """Found out once, at opening."""
    steps = (
        *SPLITS_LINES,
        Sends(":FREQ 455000"),
        Asks("*OPC?", "1"),
        Asks(":SYST:ERR?", NO_ERROR),
        Asks(":FREQ?", "455000"),
        Asks(":POW?", "-60"),
    )
    with expected_exchange(*steps) as transport:
        instrument = opened(transport)
        instrument.command(":FREQ 455000")

        assert instrument.query_numbers(":FREQ?", ":POW?") == (455000.0, -60.0)


def test_an_instrument_that_answers_each_part_on_its_own_line_is_asked_singly() -> None:
    """The first line of its answer is short; the second would be taken for the answer to the next question."""
    steps = (*SPLITS_LINES[:2], Asks("*CLS;*OPC?;:SYST:ERR?", "1"), *SPLITS_LINES[3:])
    with expected_exchange(*steps) as transport:
        opened(transport)


def test_an_instrument_without_opc_is_still_checked() -> None:
    """Its error queue is read after each setting."""
    steps = (
        *SPLITS_LINES[:6],
        Silent("*OPC?"),
        Opens(),
        Asks("*IDN?", IDENTITY),
        Asks(":SYST:ERR?", '-113,"Undefined header;*OPC?"'),
        Asks(":SYST:ERR?", NO_ERROR),
        Sends(":POW -60"),
        Asks(":SYST:ERR?", '-222,"Data out of range"'),
        Asks(":SYST:ERR?", NO_ERROR),
    )
    with expected_exchange(*steps) as transport:
        instrument = opened(transport)
        with pytest.raises(InstrumentError, match="Data out of range"):
            instrument.command(":POW -60")


def test_an_instrument_without_an_error_queue_is_not_taken() -> None:
    """Its settings could not be checked."""
    steps = (*SPLITS_LINES[:7], Silent(":SYST:ERR?"))
    with expected_exchange(*steps) as transport, pytest.raises(ReplyTimeoutError, match="SYST:ERR"):
        opened(transport)


# Settings


def test_a_setting_its_settling_and_its_check_cost_one_round_trip() -> None:
    """One message, one answer."""
    with expected_exchange(*opening(), sets(":FREQ 455000")) as transport:
        opened(transport).command(":FREQ 455000")


def test_no_error_may_be_spelled_in_several_ways() -> None:
    """The sign of zero does not matter, nor the words."""
    with expected_exchange(*opening(), sets(":FREQ 1", '1;+0,"Kein Fehler"')) as transport:
        opened(transport).command(":FREQ 1")


def test_a_refused_setting_is_reported_in_the_instruments_own_words() -> None:
    """Command, code, text and address, as data and as a sentence."""
    steps = (*opening(), sets(":FREQ 9E99", '1;-222,"Data out of range;FREQ"'), Asks(":SYST:ERR?", NO_ERROR))
    with expected_exchange(*steps) as transport:
        instrument = opened(transport)
        with pytest.raises(InstrumentError) as caught:
            instrument.command(":FREQ 9E99")

    assert (caught.value.code, caught.value.text) == (-222, "Data out of range")
    assert caught.value.command == ":FREQ 9E99"
    assert caught.value.address == transport.address
    assert str(caught.value) == (
        f"The instrument at {transport.address} refused ':FREQ 9E99': -222 Data out of range (FREQ)."
    )
    assert instrument.last_error == str(caught.value)


def test_several_errors_are_listed_together_oldest_first() -> None:
    """One error for one setting."""
    steps = (
        *opening(),
        sets(":FREQ", '1;-109,"Missing parameter"'),
        Asks(":SYST:ERR?", '-200,"Execution error"'),
        Asks(":SYST:ERR?", NO_ERROR),
    )
    with expected_exchange(*steps) as transport, pytest.raises(InstrumentError) as caught:
        opened(transport).command(":FREQ")

    assert caught.value.entries == (ErrorEntry(-109, "Missing parameter"), ErrorEntry(-200, "Execution error"))


def test_an_error_queue_without_an_end_is_left_after_a_bounded_number_of_lines() -> None:
    """An instrument that repeats itself must not hold us for ever."""
    steps = (
        *opening(),
        sets(":FREQ 1", '1;-350,"Queue overflow"'),
        *[Asks(":SYST:ERR?", '-350,"Queue overflow"')] * MOST_ERRORS,
    )
    with expected_exchange(*steps) as transport, pytest.raises(InstrumentError) as caught:
        opened(transport).command(":FREQ 1")

    assert len(caught.value.entries) == MOST_ERRORS + 1


def test_a_refused_header_that_silences_the_whole_message_is_reported_by_its_own_words() -> None:
    """IEEE 488.2 lets an instrument drop the rest of a message after a command error: no reply at all comes."""
    steps = (
        *opening(),
        Silent(":FRQ 1;*OPC?;:SYST:ERR?"),
        *reopening(IDENTITY, '-113,"Undefined header;FRQ"'),
        sets(":FREQ 1"),
    )
    with expected_exchange(*steps) as transport:
        instrument = opened(transport)
        with pytest.raises(InstrumentError, match="Undefined header"):
            instrument.command(":FRQ 1")
        instrument.command(":FREQ 1")


def test_a_silence_that_the_error_queue_does_not_explain_stays_a_silence() -> None:
    """The link is clean again at once."""
    steps = (*opening(), Silent(":READ?"), *reopening(), Asks(":READ?", "0.5"))
    with expected_exchange(*steps) as transport:
        instrument = opened(transport)
        with pytest.raises(ReplyTimeoutError, match="within 2 s"):
            instrument.query_number(":READ?")

        assert instrument.query_number(":READ?") == 0.5


def test_a_query_error_made_by_hanging_up_does_not_pass_for_a_refusal() -> None:
    """-410 Query INTERRUPTED is about our own hanging up (SCPI-99 volume 2 section 21.8)."""
    steps = (*opening(), Silent(":READ?"), *reopening(IDENTITY, '-410,"Query INTERRUPTED"'))
    with expected_exchange(*steps) as transport, pytest.raises(ReplyTimeoutError):
        opened(transport).query_number(":READ?")


def test_an_instrument_that_stays_silent_is_a_silence_not_a_second_fault() -> None:
    """What happened first is what is told."""
    steps = (*opening(), Silent(":READ?"), Opens(), Silent("*IDN?"))
    with expected_exchange(*steps) as transport, pytest.raises(ReplyTimeoutError, match="READ"):
        opened(transport).query_number(":READ?")


@pytest.mark.parametrize("reply", ["1", "", "1;2", '0;0,"No error"', '1;1;0,"No error"', '1;0,"No'])
def test_an_answer_to_a_setting_that_is_not_one_drops_the_link(reply: str) -> None:
    """What follows it can no longer be trusted, so the link is opened anew before the next message."""
    steps = (*opening(), sets(":FREQ 1", reply), *reopening(), sets(":FREQ 1"))
    with expected_exchange(*steps) as transport:
        instrument = opened(transport)
        with pytest.raises(GarbledReplyError):
            instrument.command(":FREQ 1")
        instrument.command(":FREQ 1")


def test_a_line_by_line_instrument_must_say_that_a_setting_is_done() -> None:
    """IEEE 488.2 section 10.19: *OPC? answers 1."""
    steps = (*SPLITS_LINES, Sends(":FREQ 1"), Asks("*OPC?", "0"))
    with expected_exchange(*steps) as transport, pytest.raises(GarbledReplyError):
        opened(transport).command(":FREQ 1")


# Readings


@pytest.mark.parametrize(
    ("reply", "error"),
    [("9.9E37", OverloadError), ("-9.9E+37", OverloadError), ("+9.91000E+37", NotANumberError)],
)
def test_a_mark_is_never_handed_on_as_a_reading(reply: str, error: type[Exception]) -> None:
    """And does not cost the link."""
    with expected_exchange(*opening(), Asks(":READ?", reply), Asks(":READ?", "1")) as transport:
        instrument = opened(transport)
        with pytest.raises(error):
            instrument.query_number(":READ?")

        assert instrument.query_number(":READ?") == 1.0


def test_a_reading_that_is_no_number_drops_the_link() -> None:
    """It may be half of something."""
    steps = (*opening(), Asks(":READ?", "1.2.3"), *reopening(), Asks(":READ?", "1.2"))
    with expected_exchange(*steps) as transport:
        instrument = opened(transport)
        with pytest.raises(GarbledReplyError, match=r"1\.2\.3"):
            instrument.query_number(":READ?")

        assert instrument.query_number(":READ?") == 1.2


def test_noise_on_the_wire_is_reported_and_the_next_reading_is_clean() -> None:
    """Bytes that are no text."""
    steps = (*opening(), Noise(":READ?"), *reopening(), Asks(":READ?", "1.2"))
    with expected_exchange(*steps) as transport:
        instrument = opened(transport)
        with pytest.raises(GarbledReplyError):
            instrument.query_number(":READ?")

        assert instrument.query_number(":READ?") == 1.2


def test_several_questions_with_too_few_answers_are_refused() -> None:
    """An instrument must not be misread by one place."""
    with expected_exchange(*opening(), Asks(":FREQ?;:POW?", "455000")) as transport:
        instrument = opened(transport)
        with pytest.raises(GarbledReplyError, match="2 values"):
            instrument.query_numbers(":FREQ?", ":POW?")


def test_an_exchange_may_ask_for_its_own_deadline() -> None:
    """A long gate needs a long wait."""
    with expected_exchange(*opening(), Asks(":READ?", "1")) as transport:
        opened(transport).query_number(":READ?", timeout_s=22.0)

    assert transport.deadlines_s == [2.0, 2.0, 22.0]


# Losing and finding the link


def test_a_link_lost_between_two_messages_is_opened_anew_without_a_word() -> None:
    """Nothing was on its way, so nothing is lost."""
    steps = (*opening(), GoesAway(), *reopening(), sets(":FREQ 1"))
    with expected_exchange(*steps) as transport:
        opened(transport).command(":FREQ 1")


def test_a_link_lost_during_a_message_is_reported_and_opened_anew_for_the_next() -> None:
    """Whether it arrived is not known, so the one who asked must decide."""
    steps = (*opening(), HangsUp(":READ?"), *reopening(), Asks(":READ?", "1"))
    with expected_exchange(*steps) as transport:
        instrument = opened(transport)
        with pytest.raises(LinkLostError):
            instrument.query_number(":READ?")
        assert not instrument.is_ready

        assert instrument.query_number(":READ?") == 1.0


def test_another_instrument_at_the_same_address_is_not_spoken_to() -> None:
    """Leads get swapped."""
    steps = (*opening(), GoesAway(), Opens(), Asks("*IDN?", "Other Works,Thing 2,0,1"))
    with expected_exchange(*steps) as transport:
        instrument = opened(transport)
        with pytest.raises(InstrumentChangedError, match="Other Works"):
            instrument.command(":FREQ 1")


def test_attempts_to_open_are_held_back_longer_and_longer() -> None:
    """0.2 s doubling to 5 s: a dead instrument is not hammered, a returning one is found soon."""
    clock = FakeClock()
    refused = Opens(fails="connection refused")
    pauses = [0.2, 0.4, 0.8, 1.6, 3.2, 5.0, 5.0]
    steps = (*opening(), GoesAway(), *[refused] * len(pauses), *reopening(), sets(":FREQ 1"), GoesAway(), refused)
    with expected_exchange(*steps) as transport:
        instrument = opened(transport, clock)
        for pause_s in pauses:
            with pytest.raises(NotConnectedError, match="connection refused"):
                instrument.command(":FREQ 1")
            assert instrument.retry_s == pytest.approx(pause_s)
            clock.sleep(pause_s - 0.01)
            with pytest.raises(NotConnectedError, match="a moment ago"):
                instrument.command(":FREQ 1")
            clock.sleep(0.02)
        instrument.command(":FREQ 1")
        with pytest.raises(NotConnectedError):
            instrument.command(":FREQ 1")

        assert instrument.retry_s == pytest.approx(0.2)


def test_an_instrument_put_right_after_reopening_is_put_right_before_the_next_message() -> None:
    """It may have been switched off and on."""
    steps = (*opening(), GoesAway(), *reopening(), sets(":CONF:VOLT:DC"), Asks(":READ?", "1"))
    with expected_exchange(*steps) as transport:
        instrument = opened(transport)
        instrument.when_reopened(lambda: instrument.command(":CONF:VOLT:DC"))

        assert instrument.query_number(":READ?") == 1.0


def test_an_instrument_that_cannot_be_put_right_is_not_read() -> None:
    """And it is not asked over and over within the same attempt."""
    steps = (*opening(), GoesAway(), *reopening(), Silent(":CONF:VOLT:DC;*OPC?;:SYST:ERR?"))
    with expected_exchange(*steps) as transport:
        instrument = opened(transport)
        instrument.when_reopened(lambda: instrument.command(":CONF:VOLT:DC"))
        with pytest.raises(ReplyTimeoutError):
            instrument.query_number(":READ?")
        with pytest.raises(NotConnectedError, match="a moment ago"):
            instrument.query_number(":READ?")


def test_a_link_lost_while_being_put_right_does_not_start_over_within() -> None:
    """No loop inside a loop."""
    steps = (*opening(), GoesAway(), *reopening(), HangsUp(":CONF:VOLT:DC;*OPC?;:SYST:ERR?"))
    with expected_exchange(*steps) as transport:
        instrument = opened(transport)

        def stubborn() -> None:
            with pytest.raises(LinkLostError):
                instrument.command(":CONF:VOLT:DC")
            instrument.command(":CONF:VOLT:DC")

        instrument.when_reopened(stubborn)
        with pytest.raises(LinkLostError):
            instrument.query_number(":READ?")


def test_a_ctrl_c_between_question_and_answer_leaves_no_answer_behind() -> None:
    """The link is opened anew before the next question."""
    steps = (*opening(), Interrupted(":READ?"), *reopening(), Asks(":READ?", "2"))
    with expected_exchange(*steps) as transport:
        instrument = opened(transport)
        with pytest.raises(KeyboardInterrupt):
            instrument.query_number(":READ?")

        assert instrument.query_number(":READ?") == 2.0


def test_an_instrument_that_was_never_open_says_so() -> None:
    """Instead of opening behind the caller's back."""
    with expected_exchange() as transport:
        instrument = Instrument(transport, timeout_s=1.0, clock=FakeClock().now)
        with pytest.raises(LinkLostError):
            instrument.command(":FREQ 1")
        with pytest.raises(LinkLostError):
            _ = instrument.identity
