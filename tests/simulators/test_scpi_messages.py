"""The command tree against SCPI-99 and IEEE 488.2, on the simulated source without a wire.

Error numbers and texts: SCPI-99 volume 2, section 21.8. Forms of mnemonics: SCPI-99 volume 1, section 6.2.1 (from
memory). The path after a semicolon: the standard's own example, `TRIG:SOUR EXT;COUN 10`, has the second header
continue at the last node. Suffixes: IEEE 488.2, table 7-2 (from memory).
"""

import pytest

from simulators.clock import SteppedClock
from simulators.instruments.delays import Delays
from simulators.instruments.source import SignalSource
from simulators.radios.leads import Signal
from simulators.radios.radio import Sight


class NoReceiver:
    """Nothing at the other end of the leads."""

    def __init__(self) -> None:
        self.signal: Signal | None = None

    def feed(self, signal: Signal | None) -> None:
        """Note what came."""
        self.signal = signal

    def sight(self, averaged_s: float) -> Sight:
        """Show nothing."""
        del averaged_s
        return Sight(0.0, 0.0)

    def count(self) -> float | None:
        """Count nothing."""
        return None


@pytest.fixture
def source() -> SignalSource:
    """A source fresh from the switch, its power-on event read away."""
    device = SignalSource("A,Source,1,1", SteppedClock(), Delays(source=0.25), NoReceiver())
    device.execute("*ESR?")
    return device


def errors(device: SignalSource) -> list[str]:
    """Drain the error queue."""
    found = []
    while (entry := device.execute("SYST:ERR?")) is not None and not entry.startswith("0,"):
        found.append(entry)
    return found


@pytest.mark.parametrize(
    "header",
    [
        "FREQ",
        "freq",
        "Frequency",
        ":FREQ",
        "FREQ:CW",
        "FREQ:FIX",
        "SOUR:FREQ",
        ":SOURCE:FREQUENCY:FIXED",
        "sour:frequency:cw",
    ],
)
def test_every_exact_short_or_long_form_is_the_same_command(source: SignalSource, header: str) -> None:
    """Nodes in brackets may be left out, and case does not matter."""
    source.execute(f"{header} 455000")

    assert float(source.execute("FREQ?") or "") == 455000.0
    assert errors(source) == []


@pytest.mark.parametrize("header", ["FRE", "FREQU", "FREQUENC", "SOU:FREQ", "FREQ:C", "SOURC:FREQ", "OUTPU"])
def test_anything_between_short_and_long_form_is_undefined(source: SignalSource, header: str) -> None:
    """The standard allows no other abbreviation."""
    assert source.execute(f"{header} 1000") is None

    assert errors(source) == [f'-113,"Undefined header;{header}"']


@pytest.mark.parametrize(
    ("message", "number", "text"),
    [
        ("FREQ@ 1", -101, "Invalid character"),
        ("FREQ::CW 1", -102, "Syntax error"),
        ("FREQ? ,", -103, "Invalid separator"),
        ("FREQ 'loud'", -104, "Data type error"),
        ("FREQ 1,2", -108, "Parameter not allowed"),
        ("*IDN? 1", -108, "Parameter not allowed"),
        ("FREQ", -109, "Missing parameter"),
        ("FREQUENCYOFSIGNAL 1", -112, "Program mnemonic too long"),
        ("VOLTS 1", -113, "Undefined header"),
        ("*XYZ", -113, "Undefined header"),
        ("OUTP7 ON", -114, "Header suffix out of range"),
        ("FREQ 1.2.3", -120, "Numeric data error"),
        ("FREQ 1E32001", -123, "Exponent too large"),
        ("FREQ " + "1" * 256, -124, "Too many digits"),
        ("FREQ 1 DBM", -131, "Invalid suffix"),
        ("*ESE 1 HZ", -138, "Suffix not allowed"),
        ("FREQ 'open", -151, "Invalid string data"),
        ("FREQ #1X", -161, "Invalid block data"),
        ("FREQ 1 THZ", -131, "Invalid suffix"),
        ("FREQ 1 GHZ", -222, "Data out of range"),
        ("*ESE 256", -222, "Data out of range"),
        ("OUTP LOUD", -224, "Illegal parameter value"),
    ],
)
def test_each_mistake_has_its_number_and_text(source: SignalSource, message: str, number: int, text: str) -> None:
    """And a message that fails answers nothing."""
    assert source.execute(message) is None

    (entry,) = errors(source)
    assert entry.startswith(f'{number},"{text}')


@pytest.mark.parametrize(
    ("text", "hertz"),
    [
        ("455 KHZ", 455e3),
        ("455khz", 455e3),
        ("7.1 MHZ", 7.1e6),
        ("7.1 MAHZ", 7.1e6),
        ("0.05GHZ", 50e6),
        ("4.55E5", 455e3),
        ("4.55 e5 hz", 455e3),
        (".455e6", 455e3),
        ("+455000.", 455e3),
        ("#H6F158", 455000.0),
        ("MAX", 100e6),
        ("MINimum", 1.0),
        ("DEF", 1e6),
    ],
)
def test_frequencies_take_every_numeric_form_and_suffix(source: SignalSource, text: str, hertz: float) -> None:
    """M is mega here, though milli everywhere else."""
    source.execute(f"FREQ {text}")

    assert float(source.execute("FREQ?") or "") == pytest.approx(hertz, rel=1e-12)


def test_limits_can_be_asked_for(source: SignalSource) -> None:
    """A query takes MIN, MAX and DEF."""
    assert [float(source.execute(f"FREQ? {word}") or "") for word in ("MIN", "MAX", "DEF")] == [1.0, 100e6, 1e6]


def test_a_header_after_a_semicolon_continues_beside_the_last(source: SignalSource) -> None:
    """A leading colon starts from the root again."""
    answer = source.execute("SOUR:FREQ:CW 1000;FIX?;:SOUR:POW:LEV:IMM:AMPL -20;AMPL?")

    assert [float(part) for part in (answer or "").split(";")] == [1000.0, -20.0]
    assert errors(source) == []


def test_common_commands_do_not_move_the_path(source: SignalSource) -> None:
    """IEEE 488.2 commands stand outside the tree."""
    assert source.execute("SOUR:FREQ 2000;*OPC?;FREQ?") == "1;+2.000000000000E+03"


def test_without_the_leading_colon_a_full_path_is_looked_for_in_the_wrong_place(source: SignalSource) -> None:
    """The commonest mistake in hand-written messages."""
    source.execute("SOUR:FREQ 2000;SOUR:POW -10")

    assert errors(source) == ['-113,"Undefined header;SOUR:POW"']


def test_a_message_that_cannot_be_understood_is_dropped_from_there_on(source: SignalSource) -> None:
    """What was answered before the mistake still goes out."""
    answer = source.execute("FREQ 3000;FREQ?;:NONSENSE;:FREQ 4000")

    assert answer == "+3.000000000000E+03"
    assert source.execute("FREQ?") == "+3.000000000000E+03"


def test_a_message_that_cannot_be_obeyed_goes_on(source: SignalSource) -> None:
    """An execution error is no parser error."""
    source.execute("FREQ 1e12;POW -33")

    assert float(source.execute("POW?") or "") == -33.0
    assert errors(source) == ['-222,"Data out of range;1e12"']


def test_separators_inside_quotes_are_text(source: SignalSource) -> None:
    """A semicolon in a string ends nothing."""
    source.execute("OUTP 'ON;OFF'")

    (entry,) = errors(source)
    assert entry == "-104,\"Data type error;'ON;OFF'\""


def test_reset_switches_the_output_off(source: SignalSource) -> None:
    """Safety first: no default has power in it."""
    source.execute("OUTP ON;FREQ 5000")
    assert source.execute("OUTP?") == "1"

    source.execute("*RST")

    assert source.execute("OUTP?;FREQ?") == "0;+1.000000000000E+06"


@pytest.mark.parametrize(("word", "state"), [("ON", "1"), ("1", "1"), ("0.6", "1"), ("OFF", "0"), ("0", "0")])
def test_switches_take_words_and_numbers(source: SignalSource, word: str, state: str) -> None:
    """Anything that rounds to other than zero is on."""
    source.execute(f"OUTP1:STAT {word}")

    assert source.execute("OUTP?") == state


def test_empty_messages_and_stray_semicolons_are_nothing(source: SignalSource) -> None:
    """IEEE 488.2 allows empty message units."""
    assert source.execute("") is None
    assert source.execute(" ; ;FREQ?; ") == "+1.000000000000E+06"
    assert errors(source) == []
