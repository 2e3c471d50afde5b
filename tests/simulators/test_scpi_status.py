"""Status registers and error queue against IEEE 488.2 sections 10 and 11 and SCPI-99 volume 2, section 21.8.

The event-status bits by class of error: command 32, execution 16, device 8, query 4; power on 128, operation
complete 1. The status byte: error queue 4, message available 16, event summary 32, master summary 64.
"""

import pytest

from simulators.clock import SteppedClock
from simulators.instruments.delays import Delays
from simulators.instruments.source import SignalSource
from simulators.scpi.errors import ScpiError
from simulators.scpi.status import QUEUE_LENGTH, Status
from tests.simulators.test_scpi_messages import NoReceiver


@pytest.fixture
def clock() -> SteppedClock:
    """Time that passes only when stepped."""
    return SteppedClock()


@pytest.fixture
def source(clock: SteppedClock) -> SignalSource:
    """A source that needs a quarter of a second to settle."""
    return SignalSource("A,Source,1,1", clock, Delays(source=0.25), NoReceiver())


def test_power_on_is_the_first_event_and_reading_clears_it(source: SignalSource) -> None:
    """Section 10.12: reading the register clears it."""
    assert [source.execute("*ESR?"), source.execute("*ESR?")] == ["128", "0"]


@pytest.mark.parametrize(("number", "bit"), [(-113, 32), (-222, 16), (-350, 8), (-310, 8), (-410, 4), (-800, 1)])
def test_each_class_of_error_sets_its_event_bit(number: int, bit: int) -> None:
    """The hundreds of the number tell the class."""
    status = Status()
    status.clear()

    status.report(ScpiError(number))

    assert status.standard.take_event() == bit


def test_the_oldest_error_comes_first_and_an_empty_queue_says_so(source: SignalSource) -> None:
    """First in, first out; then 0,"No error"."""
    source.execute("BAD1")
    source.execute("FREQ 1e15")

    assert source.execute("SYST:ERR:COUN?") == "2"
    assert source.execute("SYST:ERR?") == '-113,"Undefined header;BAD1"'
    assert source.execute("SYSTEM:ERROR:NEXT?") == '-222,"Data out of range;1e15"'
    assert source.execute("SYST:ERR?") == '0,"No error"'


def test_an_overflowing_queue_gives_up_its_newest_entry(source: SignalSource) -> None:
    """The older errors, nearer the cause, are kept."""
    for number in range(QUEUE_LENGTH + 5):
        source.execute(f"BAD{number}")

    entries = [source.execute("SYST:ERR?") for _ in range(QUEUE_LENGTH + 1)]

    assert entries[0] == '-113,"Undefined header;BAD0"'
    assert entries[-2] == '-350,"Queue overflow"'
    assert entries[-1] == '0,"No error"'


def test_an_error_text_is_never_longer_than_the_standard_allows(source: SignalSource) -> None:
    """255 characters, detail included (from memory)."""
    source.execute("BAD" + ":X" * 400)

    entry = source.execute("SYST:ERR?") or ""
    assert len(entry.partition(",")[2].strip('"')) == 255


def test_the_status_byte_sums_up_what_is_enabled(source: SignalSource) -> None:
    """Reading the byte clears nothing; reading the event register does."""
    source.execute("*CLS;*ESE 32;*SRE 32")
    assert source.execute("*STB?") == "0"

    source.execute("BAD")

    assert source.execute("*STB?") == str(64 + 32 + 4)
    assert source.execute("*ESR?") == "32"
    assert source.execute("*STB?") == "4"


def test_an_answer_waiting_in_the_same_message_shows_in_the_status_byte(source: SignalSource) -> None:
    """Message available is bit 4."""
    assert source.execute("*CLS;*IDN?;*STB?") == "A,Source,1,1;16"


def test_the_master_summary_cannot_be_enabled(source: SignalSource) -> None:
    """Section 11.3.2.2: bit 6 of the mask is ignored."""
    source.execute("*SRE 255")

    assert source.execute("*SRE?") == "191"


def test_clearing_empties_queue_and_events_but_keeps_the_masks(source: SignalSource) -> None:
    """Section 10.3."""
    source.execute("*ESE 60;*SRE 32")
    source.execute("BAD")

    source.execute("*CLS")

    assert source.execute("*ESR?;*ESE?;*SRE?") == "0;60;32"
    assert source.execute("SYST:ERR:COUN?") == "0"


def test_operation_complete_waits_for_the_source_to_settle(source: SignalSource, clock: SteppedClock) -> None:
    """Section 10.18: the event comes when nothing is pending any more."""
    source.execute("*CLS;FREQ 2000;*OPC")
    assert source.execute("*ESR?") == "0"

    clock.wait(0.25)

    assert source.execute("*ESR?") == "1"


def test_the_query_form_answers_one_after_settling_and_sets_no_event(source: SignalSource, clock: SteppedClock) -> None:
    """Section 10.19."""
    assert source.execute("*CLS;FREQ 2000;*OPC?") == "1"
    assert clock.now_s() == pytest.approx(0.25)
    assert source.execute("*ESR?") == "0"


def test_wait_holds_what_follows_until_settled(source: SignalSource, clock: SteppedClock) -> None:
    """Section 10.39."""
    source.execute("FREQ 2000;*WAI;*IDN?")

    assert clock.now_s() == pytest.approx(0.25)


def test_self_test_version_and_the_two_register_groups_answer(source: SignalSource) -> None:
    """SCPI-99 requires all of them of every instrument."""
    assert source.execute("*TST?;:SYST:VERS?") == "0;1999.0"
    source.execute("STAT:OPER:ENAB 5;:STAT:QUES:ENAB 6")
    assert source.execute("STAT:OPER:ENAB?;COND?;EVEN?;:STAT:QUES:ENAB?;:STAT:QUES?") == "5;0;0;6;0"
    source.execute("STAT:PRES")
    assert source.execute("STAT:OPER:ENAB?;:STAT:QUES:ENAB?") == "0;0"


def test_settling_shows_as_condition_and_leaves_an_event(source: SignalSource, clock: SteppedClock) -> None:
    """Bit 1 of the operation register is SETTling (SCPI-99 volume 1, section 9.3, from memory)."""
    source.execute("*CLS;FREQ 2000")
    assert source.execute("STAT:OPER:COND?") == "2"

    clock.wait(0.25)

    assert source.execute("STAT:OPER:COND?;EVEN?;EVEN?") == "0;2;0"


def test_a_message_longer_than_the_input_buffer_is_an_overrun(source: SignalSource) -> None:
    """A device-dependent error, so event bit 3."""
    source.execute("*CLS")

    source.overrun()

    assert source.execute("SYST:ERR?") == '-363,"Input buffer overrun"'
    assert source.execute("*ESR?") == "8"
