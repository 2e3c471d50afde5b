"""The text of SCPI and IEEE 488.2 against what the standards say of it.

Values of marks, form of error lines and blocks, splitting rules: SCPI-99 and IEEE 488.2 as quoted beside each check.
Section numbers 7.7.2, 8.4.1, 8.7.2 to 8.7.4 and 8.7.8 of IEEE 488.2, and 7.3 of SCPI-99 volume 1, are from memory.
"""

import re
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drivers.scpi import (
    ErrorEntry,
    NumberMark,
    ScpiFormatError,
    format_number,
    mark_of,
    parse_boolean,
    parse_error_entry,
    parse_number,
    split_reply,
)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        # IEEE 488.2 section 8.7.2 to 8.7.4: NR1 integer, NR2 fixed point, NR3 exponent.
        ("455000", 455000.0),
        ("+7", 7.0),
        ("-60.25", -60.25),
        ("+1.234567E-03", 1.234567e-3),
        ("4.55E+05", 455000.0),
        # NRf, section 7.7.2: no leading digit needed, either case of the E.
        (".5", 0.5),
        ("5.", 5.0),
        ("1e3", 1000.0),
        (" 1.5\r", 1.5),
    ],
)
def test_every_form_of_number_is_read(text: str, value: float) -> None:
    """All three forms may answer any numeric query."""
    assert parse_number(text) == value


@pytest.mark.parametrize("text", ["", "1.2V", "1_000", "0x10", "--1", "1,2", "1 2", "1.2.3", "E5", "٣", "1E", "nan1"])
def test_what_is_no_number_is_not_read_as_one(text: str) -> None:
    """Units, underscores and the rest that Python or a tired reader would let pass."""
    with pytest.raises(ScpiFormatError):
        parse_number(text)


@pytest.mark.parametrize(
    ("text", "mark"),
    [
        # SCPI-99 volume 1 section 7.2.1: infinity 9.9E37, minus infinity -9.9E37, not a number 9.91E37.
        ("9.9E37", NumberMark.OVERLOAD),
        ("9.90000000E+37", NumberMark.OVERLOAD),
        ("+9.9E+37", NumberMark.OVERLOAD),
        ("-9.9E37", NumberMark.OVERLOAD),
        ("-9.90000E+37", NumberMark.OVERLOAD),
        ("9.91E37", NumberMark.NOT_A_NUMBER),
        ("+9.91000E+37", NumberMark.NOT_A_NUMBER),  # as one instrument is known to spell it
        ("NAN", NumberMark.NOT_A_NUMBER),
        ("INF", NumberMark.OVERLOAD),
        ("NINF", NumberMark.OVERLOAD),
        # Beyond infinity there is no reading either.
        ("9.99E37", NumberMark.OVERLOAD),
        ("1E38", NumberMark.OVERLOAD),
        ("1E999", NumberMark.OVERLOAD),
    ],
)
def test_marks_are_told_from_readings(text: str, mark: NumberMark) -> None:
    """None of them may ever be plotted."""
    assert mark_of(parse_number(text)) is mark


@pytest.mark.parametrize("text", ["0", "-1.5", "9.8E37", "1E37", "-9.8E37"])
def test_readings_are_not_taken_for_marks(text: str) -> None:
    """Large is not yet infinite."""
    assert mark_of(parse_number(text)) is None


@pytest.mark.parametrize(
    ("value", "decimals", "text"),
    [
        # 1.005 MHz as a product of floats is 1004999.9999999999: cut, it would be a hertz low.
        (1.005 * 1e6, 3, "1005000"),
        (455e3, 3, "455000"),
        (60000.1234, 3, "60000.123"),
        (-60.0, 3, "-60"),
        (-0.0001, 3, "0"),
        (0.1, 6, "0.1"),
        (100.0, 0, "100"),
    ],
)
def test_numbers_are_written_rounded_and_short(value: float, decimals: int, text: str) -> None:
    """No exponent, no needless zeros, no minus zero."""
    assert format_number(value, decimals) == text


@settings(deadline=None)
@given(st.floats(min_value=-1e12, max_value=1e12), st.integers(0, 6))
def test_a_written_number_is_within_half_a_unit_of_its_last_place(value: float, decimals: int) -> None:
    """Exactly so, in decimal arithmetic."""
    text = format_number(value, decimals)

    assert re.fullmatch(r"-?[0-9]+(\.[0-9]+)?", text)
    assert abs(Decimal(text) - Decimal(value)) <= Decimal(5).scaleb(-decimals - 1)


@pytest.mark.parametrize(
    ("line", "entry"),
    [
        # SCPI-99 volume 2 section 21.8: number, comma, quoted text; after a semicolon inside the quotes, the detail.
        ('0,"No error"', ErrorEntry(0, "No error")),
        ('+0,"No error"', ErrorEntry(0, "No error")),
        ('-113,"Undefined header;STUB?"', ErrorEntry(-113, "Undefined header", "STUB?")),
        ('-222,"Data out of range"', ErrorEntry(-222, "Data out of range")),
        ('-350,"Queue overflow"', ErrorEntry(-350, "Queue overflow")),
        # Positive codes are the instrument's own.
        ('32767,"Oven cold"', ErrorEntry(32767, "Oven cold")),
        # IEEE 488.2 section 8.7.8: a doubled quote inside a string stands for one.
        ('-102,"Syntax error;near ""FREQ"""', ErrorEntry(-102, "Syntax error", 'near "FREQ"')),
        ("-100,'Command error'", ErrorEntry(-100, "Command error")),
        (' -410 , "Query INTERRUPTED" ', ErrorEntry(-410, "Query INTERRUPTED")),
    ],
)
def test_a_line_of_the_error_queue_is_read(line: str, entry: ErrorEntry) -> None:
    """With its detail apart, so that a sentence can be made of it."""
    assert parse_error_entry(line) == entry


@pytest.mark.parametrize(
    "line", ["", "0", "No error", '-113,"Undefined', "-113,Undefined header", '1.5,"x"', '0,"a" b']
)
def test_what_is_no_line_of_the_error_queue_is_refused(line: str) -> None:
    """A garbled line must not pass for no error."""
    with pytest.raises(ScpiFormatError):
        parse_error_entry(line)


@pytest.mark.parametrize("code", [-400, -410, -420, -430, -440, -499])
def test_the_400_class_is_about_the_dialogue(code: int) -> None:
    """SCPI-99 volume 2 section 21.8: query errors."""
    assert ErrorEntry(code, "").is_query_error


@pytest.mark.parametrize("code", [-113, -222, -399, -500, 0, 400])
def test_other_classes_are_not_about_the_dialogue(code: int) -> None:
    """They say what became of a setting."""
    assert not ErrorEntry(code, "").is_query_error


@pytest.mark.parametrize(("text", "on"), [("1", True), ("0", False), ("+1", True), (" on ", True), ("OFF", False)])
def test_a_boolean_is_read(text: str, on: bool) -> None:
    """SCPI-99 volume 1 section 7.3: answered as 1 or 0."""
    assert parse_boolean(text) is on


@pytest.mark.parametrize("text", ["", "2", "YES", "10", "1.0E0"])
def test_what_is_no_boolean_is_refused(text: str) -> None:
    """An output that is on must not be taken for one that is off."""
    with pytest.raises(ScpiFormatError):
        parse_boolean(text)


@pytest.mark.parametrize(
    ("reply", "parts"),
    [
        # IEEE 488.2 section 8.4.1: response units are separated by semicolons.
        ("1", ("1",)),
        ("0;0", ("0", "0")),
        ('1;0,"No error"', ("1", '0,"No error"')),
        ('1;-113,"Undefined header;STUB?"', ("1", '-113,"Undefined header;STUB?"')),
        ("1; 'a;b' ;2", ("1", "'a;b'", "2")),
        ('"say ""a;b""";2', ('"say ""a;b"""', "2")),
        # Section 8.7.9: separators inside a block are data.
        ("#15HE;LO;1", ("#15HE;LO", "1")),
        ("1;#0a;b", ("1", "#0a;b")),
        ("#HFF;2", ("#HFF", "2")),
        ("", ("",)),
    ],
)
def test_a_compound_reply_is_split_where_its_parts_end(reply: str, parts: tuple[str, ...]) -> None:
    """And not at semicolons that belong to a text or a block."""
    assert split_reply(reply) == parts


@pytest.mark.parametrize("reply", ['1;"never closed', "#15HEL", "#A", "#2", "#2x1"])
def test_a_compound_reply_that_was_cut_is_refused(reply: str) -> None:
    """Better no parts than wrong ones."""
    with pytest.raises(ScpiFormatError):
        split_reply(reply)


@settings(deadline=None)
@given(st.lists(st.text(st.characters(min_codepoint=32, max_codepoint=126)), min_size=1, max_size=5))
def test_quoted_texts_survive_being_joined_and_split(texts: list[str]) -> None:
    """Whatever they hold."""
    quoted = ['"' + text.replace('"', '""') + '"' for text in texts]

    assert split_reply(";".join(quoted)) == tuple(quoted)
