"""What a person types for a reading: 1.23, 350 mV, 7.0 for S-units, 455.25 kHz."""

import re
from decimal import Decimal, InvalidOperation

BACK = "back"
"""Take the last reading back."""

AGAIN = "?"
"""Say the question again."""

_NUMBER = re.compile(r"([-+]?[0-9]*[.,]?[0-9]+(?:[eE][-+]?[0-9]+)?|[-+]?[0-9]+[.,])\s*([A-Za-zµ]*)")
_VOLTS = {"": Decimal(1), "v": Decimal(1), "mv": Decimal("0.001"), "uv": Decimal("0.000001"), "µv": Decimal("0.000001")}
_HERTZ = {"": Decimal(1), "hz": Decimal(1), "khz": Decimal(1000), "mhz": Decimal(1_000_000)}
_UNITS = {
    "V": _VOLTS,
    "dB": {"": Decimal(1), "db": Decimal(1)},
    "S": {"": Decimal(1)},
    "scale": {"": Decimal(1)},
    "Hz": _HERTZ,
}
_S_UNIT_DB = 6.0
"""IARU Region 1 Technical Recommendation R.1: one S-unit is 6 dB. The needles of real receivers often differ."""


def read_typed(text: str, unit: str) -> float:
    """Read a typed value, in the base unit: volts, dB, S-units, marks of a scale or hertz.

    Raises:
        ValueError: with a sentence that shows what may be typed.
    """
    match = _NUMBER.fullmatch(text.strip())
    factor = _UNITS[unit].get(match[2].lower()) if match else None
    if match is None or factor is None:
        example = {"V": "1.23 or 350 mV", "Hz": "455250 or 455.25 kHz"}.get(unit, "7.5")
        raise ValueError(f"{text!r} is not a reading in {unit}. Type a number, e.g. {example}.")
    try:
        return float(Decimal(match[1].replace(",", ".")) * factor)
    except InvalidOperation as error:
        raise ValueError(f"{text!r} is not a number. Type it again.") from error


def as_volts(value: float, unit: str) -> float:
    """Give what a linear detector would have given: decibels and S-units become a voltage against 1 V."""
    if unit == "dB":
        return float(10 ** (value / 20))
    if unit == "S":
        return float(10 ** (value * _S_UNIT_DB / 20))
    return value
