"""Quantities as a person types them: 455kHz, 7.1MHz, -60 or -60dBm, 1%. A frequency needs its unit."""

import re
from decimal import Decimal, InvalidOperation

QUANTITY = re.compile(r"\s*([-+]?[0-9.]+(?:[eE][-+]?[0-9]+)?)\s*([A-Za-z%]*)\s*")

HERTZ = {"hz": Decimal(1), "khz": Decimal(10**3), "mhz": Decimal(10**6), "ghz": Decimal(10**9)}
# A receiver is aligned between some tens of kilohertz and some hundreds of megahertz.
_MEGAHERTZ_BELOW = 100
_SURELY_HERTZ = 100_000
DBM = {"": Decimal(1), "dbm": Decimal(1)}
SECONDS = {"": Decimal(1), "s": Decimal(1), "ms": Decimal("0.001")}
SHARE = {"": Decimal("0.01"), "%": Decimal("0.01")}


def parse_hertz(text: str) -> float:
    """Read a frequency in Hz, kHz, MHz or GHz. One without a unit is not guessed at: 440 would be hertz to a machine.

    Raises:
        ValueError: with a sentence that shows what may be written.
    """
    bare = QUANTITY.fullmatch(text)
    if bare is not None and not bare[2] and bare[1].count(".") <= 1:
        likely = " or ".join(f"{bare[1]}{unit}" for unit in _likely_units(bare[1]))
        raise ValueError(f"{text!r} needs a unit: write {likely}.")
    return _parse(text, HERTZ, "a frequency such as 455kHz, 7.1MHz or 455000Hz")


def _likely_units(number: str) -> tuple[str, str]:
    """Give the two units in which a number is most likely a receiver's frequency, the likelier first."""
    try:
        size = abs(Decimal(number))
    except InvalidOperation:
        return "kHz", "MHz"
    if size >= _SURELY_HERTZ:
        return "Hz", "kHz"
    return ("MHz", "kHz") if size < _MEGAHERTZ_BELOW else ("kHz", "MHz")


def parse_dbm(text: str) -> float:
    """Read a power in dBm."""
    return _parse(text, DBM, "a power such as -60 or -60dBm")


def parse_seconds(text: str) -> float:
    """Read a time in seconds, or in milliseconds with `ms`."""
    return _parse(text, SECONDS, "a time such as 0.05 or 50ms")


def parse_percent(text: str) -> float:
    """Read a percentage and give it as a share: 1% is 0.01."""
    return _parse(text, SHARE, "a percentage such as 1% or 0.5")


def parse_count(text: str) -> int:
    """Read a whole number."""
    try:
        return int(text)
    except ValueError:
        raise ValueError(f"{text!r} is not a whole number.") from None


def parse_choice(text: str, choices: tuple[str, ...]) -> str:
    """Read one of a few words."""
    if text not in choices:
        raise ValueError(f"{text!r} must be one of {', '.join(choices)}.")
    return text


def _parse(text: str, units: dict[str, Decimal], wanted: str) -> float:
    match = QUANTITY.fullmatch(text)
    factor = units.get(match[2].lower()) if match else None
    if match is None or factor is None:
        raise ValueError(f"{text!r} is not {wanted}.")
    try:
        # decimal, so that 7.1MHz is 7100000 Hz and not a rounding away from it
        return float(Decimal(match[1]) * factor)
    except InvalidOperation:
        raise ValueError(f"{text!r} is not {wanted}.") from None
