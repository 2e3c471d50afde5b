"""SCPI-99 and IEEE 488.2 text: numbers, marks, compound replies, error-queue lines, blocks. Pure functions.

Every parser raises `ScpiFormatError` for text that is not of its kind; nothing is guessed.
"""

import re
from dataclasses import dataclass
from enum import Enum

NO_ERROR = 0
# IEEE 488.2 section 7.7.2 NRf: any of NR1, NR2, NR3, with or without sign. ASCII digits only.
_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?")
# SCPI-99 volume 1 section 7.2.1 gives the values. Instruments round them (+9.9000E+37, 9.91000000E37).
_INFINITY = 9.9e37
_NOT_A_NUMBER = 9.91e37
_MARK_TOLERANCE = 0.004e37
_WORD_MARKS = {"NAN": _NOT_A_NUMBER, "INF": _INFINITY, "+INF": _INFINITY, "-INF": -_INFINITY, "NINF": -_INFINITY}
_ERROR_LINE = re.compile(r"([+-]?[0-9]+)\s*,\s*(?:\"((?:[^\"]|\"\")*)\"|'((?:[^']|'')*)')")
_QUERY_ERRORS = range(-499, -399)


class ScpiFormatError(ValueError):
    """The text is not of the kind that was asked for. The message says what is wrong with it."""


class NumberMark(Enum):
    """Values that stand for something other than a reading."""

    OVERLOAD = "overload"
    NOT_A_NUMBER = "not a number"


@dataclass(frozen=True, slots=True)
class ErrorEntry:
    """One line of the error queue. `detail` is what the instrument added after a semicolon, or empty."""

    code: int
    text: str
    detail: str = ""

    def __str__(self) -> str:
        spoken = f"{self.text} ({self.detail})" if self.detail else self.text
        return f"{self.code} {spoken}"

    @property
    def is_query_error(self) -> bool:
        """Whether the code is of the -400 class: talk about the dialogue itself, not about a setting."""
        return self.code in _QUERY_ERRORS


def format_number(value: float, decimals: int) -> str:
    """Write a number as NR1 or NR2, rounded to `decimals` places, never cut, without needless zeros.

    Args:
        value: Finite.
        decimals: Places kept after the point.
    """
    text = f"{value:.{decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def parse_number(text: str) -> float:
    """Read an NR1, NR2 or NR3 number. A mark comes back as its value: ask `mark_of` before using it."""
    stripped = text.strip()
    if _NUMBER.fullmatch(stripped):
        return float(stripped)
    word = _WORD_MARKS.get(stripped.upper())
    if word is None:
        raise ScpiFormatError("not a number")
    return word


def mark_of(value: float) -> NumberMark | None:
    """Tell a mark from a reading: 9.9E37 and beyond, of either sign, is overload; 9.91E37 is not a number."""
    if abs(value) < _INFINITY - _MARK_TOLERANCE:
        return None
    if abs(value - _NOT_A_NUMBER) < _MARK_TOLERANCE:
        return NumberMark.NOT_A_NUMBER
    return NumberMark.OVERLOAD


def parse_boolean(text: str) -> bool:
    """Read a boolean reply: 1 or 0 (SCPI-99 volume 1 section 7.3); ON and OFF are understood too."""
    word = text.strip().upper()
    if word in {"1", "+1", "ON"}:
        return True
    if word in {"0", "+0", "-0", "OFF"}:
        return False
    raise ScpiFormatError("neither 1 nor 0")


def parse_error_entry(text: str) -> ErrorEntry:
    """Read one reply of SYSTem:ERRor?: number, comma, quoted text, the detail after a semicolon inside the quotes."""
    match = _ERROR_LINE.fullmatch(text.strip())
    if match is None:
        raise ScpiFormatError("not a line of the error queue")
    code, double_quoted, single_quoted = match.groups()
    words = double_quoted.replace('""', '"') if double_quoted is not None else single_quoted.replace("''", "'")
    spoken, _, detail = words.partition(";")
    return ErrorEntry(int(code), spoken.strip(), detail.strip())


def split_reply(text: str) -> tuple[str, ...]:
    """Split a compound reply at the semicolons that separate its parts, and not at those inside strings or blocks."""
    parts = []
    begin = position = 0
    while position < len(text):
        character = text[position]
        if character == ";":
            parts.append(text[begin:position].strip())
            begin = position + 1
        if character in "\"'":
            position = _end_of_string(text, position)
        elif character == "#":
            position = _end_of_block(text, position)
        else:
            position += 1
    parts.append(text[begin:].strip())
    return tuple(parts)


def _end_of_string(text: str, begin: int) -> int:
    """Give the position behind the closing quote. A doubled quote closes and opens again, which comes to the same."""
    end = text.find(text[begin], begin + 1)
    if end < 0:
        raise ScpiFormatError("a string without its closing quote")
    return end + 1


def _start_of_block_data(text: str, begin: int) -> int:
    digits = text[begin + 1 : begin + 2]
    count = text[begin + 2 : begin + 2 + int(digits)] if digits in set("123456789") else ""
    if not count or len(count) != int(digits) or not (count.isascii() and count.isdigit()):
        raise ScpiFormatError("a block without its length")
    return begin + 2 + int(digits)


def _end_of_block(text: str, begin: int) -> int:
    if text[begin + 1 : begin + 2] in set("HQBhqb"):
        # 488.2 non-decimal numbers (#HFF) begin the same way and hold no separator.
        return begin + 2
    if text[begin + 1 : begin + 2] == "0":
        return len(text)
    first = _start_of_block_data(text, begin)
    length = int(text[begin + 2 : first])
    if first + length > len(text):
        raise ScpiFormatError("a block cut short")
    return first + length
