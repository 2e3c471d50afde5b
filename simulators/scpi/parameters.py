"""Parameters: numbers with unit suffixes, switches and choices, read strictly by IEEE 488.2 section 7.7."""

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Protocol

from simulators.scpi.errors import ScpiError

# IEEE 488.2 table 7-2: M is milli, except in MHZ where it is mega. MA always is mega.
HERTZ: Mapping[str, float] = {"HZ": 1.0, "KHZ": 1e3, "MHZ": 1e6, "MAHZ": 1e6, "GHZ": 1e9}
VOLTS: Mapping[str, float] = {"V": 1.0, "KV": 1e3, "MV": 1e-3, "UV": 1e-6, "NV": 1e-9}
SECONDS: Mapping[str, float] = {"S": 1.0, "MS": 1e-3, "US": 1e-6, "NS": 1e-9}
DBM: Mapping[str, float] = {"DBM": 1.0}
PERCENT: Mapping[str, float] = {"PCT": 1.0}
PLAIN: Mapping[str, float] = {}

_NUMBER = re.compile(r"([+-]?)(\d*\.?\d*)(?:\s*[eE]\s*([+-]?\d+))?\s*([A-Za-z%/][\w%/]*)?", re.ASCII)
_OTHER_BASE = re.compile(r"#([HQBhqb])([0-9A-Fa-f]+)")
_BASES = {"H": 16, "Q": 8, "B": 2}
_LARGEST_EXPONENT = 32000
_MOST_DIGITS = 255
_KEYWORDS = {"MINIMUM": "MIN", "MIN": "MIN", "MAXIMUM": "MAX", "MAX": "MAX", "DEFAULT": "DEF", "DEF": "DEF"}


class Parameter(Protocol):
    """Reads one parameter's text."""

    def parse(self, text: str) -> object:
        """Give the value, or raise `ScpiError`."""


@dataclass(frozen=True, slots=True)
class Numeric:
    """A number between two bounds, with the unit suffixes it takes and the words MIN, MAX and DEF."""

    minimum: float
    maximum: float
    default: float
    units: Mapping[str, float] = field(default_factory=dict)

    def parse(self, text: str) -> float:
        """Read a number.

        Raises:
            ScpiError: -104, -120, -123, -124, -131, -138 or -222.
        """
        value = self.keyword(text)
        if value is None:
            value = _number(text, self.units)
        if not self.minimum <= value <= self.maximum:
            raise ScpiError(-222, text)
        return value

    def keyword(self, text: str) -> float | None:
        """Give the bound that MIN, MAX or DEF stands for, or None for any other text."""
        bounds = {"MIN": self.minimum, "MAX": self.maximum, "DEF": self.default}
        word = _KEYWORDS.get(text.upper())
        return None if word is None else bounds[word]


@dataclass(frozen=True, slots=True)
class AutoNumeric:
    """A number of which only the bounds matter, or AUTO: the range of `CONFigure` and `MEASure?`."""

    number: Numeric

    def parse(self, text: str) -> float | None:
        """Give the number, or None for AUTO and DEF."""
        if text.upper() == "AUTO" or _KEYWORDS.get(text.upper()) == "DEF":
            return None
        return self.number.parse(text)


@dataclass(frozen=True, slots=True)
class Switch:
    """ON, OFF or a number, of which anything that rounds to other than zero is on."""

    def parse(self, text: str) -> bool:
        """Read a switch."""
        word = text.upper()
        if word in ("ON", "OFF"):
            return word == "ON"
        if text[:1].isalpha():
            raise ScpiError(-224, text)
        return round(_number(text, PLAIN)) != 0


@dataclass(frozen=True, slots=True)
class Choices:
    """One of some mnemonics, each in its short or its long form. Gives the short form, in capitals."""

    names: tuple[str, ...]

    def parse(self, text: str) -> str:
        """Read a mnemonic."""
        for name in self.names:
            short = "".join(character for character in name if not character.islower())
            if text.upper() in (short, name.upper()):
                return short
        raise ScpiError(-224, text)


@dataclass(frozen=True, slots=True)
class Text:
    """A string in single or double quotes."""

    def parse(self, text: str) -> str:
        """Read a string, its quotes taken off and doubled ones inside made single."""
        quote = text[:1]
        if quote not in ("'", '"'):
            raise ScpiError(-104, text)
        if len(text) < len("''") or text[-1] != quote:
            raise ScpiError(-151, text)
        return text[1:-1].replace(quote * 2, quote)


def _number(text: str, units: Mapping[str, float]) -> float:
    match = _NUMBER.fullmatch(text)
    if match is None or not any(character.isdigit() for character in match[2]):
        return _unusual_number(text)
    sign, digits, exponent, suffix = match.groups()
    if len(digits) > _MOST_DIGITS:
        raise ScpiError(-124, text[:40])
    if exponent and abs(int(exponent)) > _LARGEST_EXPONENT:
        raise ScpiError(-123, text)
    value = float(f"{sign}{digits}e{exponent or 0}")
    return value * _factor(suffix, units) if suffix else value


def _factor(suffix: str, units: Mapping[str, float]) -> float:
    if not units:
        raise ScpiError(-138, suffix)
    factor = units.get(suffix.upper())
    if factor is None:
        raise ScpiError(-131, suffix)
    return factor


def _unusual_number(text: str) -> float:
    """Read hexadecimal, octal and binary numbers and the words for infinity; refuse the rest with the fitting error."""
    other_base = _OTHER_BASE.fullmatch(text)
    if other_base:
        try:
            return float(int(other_base[2], _BASES[other_base[1].upper()]))
        except ValueError:
            raise ScpiError(-120, text) from None
    infinities = {"INF": 9.9e37, "INFINITY": 9.9e37, "NINF": -9.9e37, "NINFINITY": -9.9e37}
    if text.upper() in infinities:
        return infinities[text.upper()]
    if text[:1] in "'\"#(" or text[:1].isalpha():
        raise ScpiError(-104, text)
    raise ScpiError(-120, text)
