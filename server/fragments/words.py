"""Times, counts, endings and settings in plain words."""

import re
from collections.abc import Iterable, Sequence
from datetime import date, datetime, time, timedelta

from server.report.times import MONTHS

KILOHERTZ_FROM_HZ, MEGAHERTZ_FROM_HZ = 1e3, 3e6
"""Receivers call intermediate and broadcast frequencies kilohertz, and short-wave ones megahertz."""

MINUS, NARROW_SPACE = "\u2212", "\u202f"
SHORT = re.compile(r"\b(agc|if)\b")
SIGNED = re.compile(r"(^|[\s(±])-(?=\d)")

ENDINGS = {
    "completed": ("done", "completed"),
    "stopped": ("stop", "stopped"),
    "failed": ("cross", "failed"),
    "interrupted": ("cross", "interrupted"),
}
"""The symbol and the word of each way a run ends."""

LAWS = {
    "linear": "linear detector",
    "square": "square-law detector",
    "calibrate": "law found by stepping the source",
}


def ending_of(ending: str | None) -> tuple[str, str]:
    """Give the symbol and the word of how a run ended; one that has not ended runs."""
    return ("running", "running") if ending is None else ENDINGS.get(ending, ("half", ending))


def counted(count: int, one: str, many: str | None = None) -> str:
    """Count things: 1 step, 2 steps."""
    return f"{count} {one if count == 1 else many or f'{one}s'}"


def capital(text: str) -> str:
    """Give a name as the first word of a line."""
    return text[:1].upper() + text[1:]


def in_words(name: str) -> str:
    """Give the name of a control or of a kind of step, its abbreviations in capitals: if.main becomes IF main."""
    return SHORT.sub(lambda found: found.group().upper(), name.replace(".", " ").replace("_", " "))


def listed(names: Iterable[object]) -> str:
    """Join names in a sentence: a, b and c."""
    *others, last = [str(name) for name in names] or [""]
    return f"{', '.join(others)} and {last}" if others else last


def printed(text: str) -> str:
    """Give a sentence of the terminal's as print has it: ± and a true minus."""
    return SIGNED.sub(rf"\1{MINUS}", text.replace(" +- ", " ± "))


def moment(utc: str) -> str:
    """Give a kept moment as date and time where the bench is, with the zone: 25 Nov 2026, 10:58 CET."""
    at = _instant(utc)
    return utc if at is None else f"{at.day} {MONTHS[at.month - 1][:3]} {at.year}, {at:%H:%M} {at:%Z}".rstrip()


def month_of(utc: str) -> str:
    """Give the month and the year of a moment: Nov 2026."""
    at = _instant(utc)
    return utc if at is None else f"{MONTHS[at.month - 1][:3]} {at.year}"


def _instant(utc: str) -> datetime | None:
    try:
        at = datetime.fromisoformat(utc)
    except ValueError:
        return None
    return (at if at.tzinfo else datetime.fromisoformat(f"{utc}+00:00")).astimezone()


def start_of_day(day: str, later: int) -> str:
    """Give the moment at which a day begins where the bench is, so many days on; nothing of what is no day."""
    try:
        begins = datetime.combine(date.fromisoformat(day) + timedelta(days=later), time())
    except ValueError:
        return ""
    return begins.astimezone().isoformat()


def say_setting(hz: float) -> str:
    """Write a frequency that was set, not measured: all its digits down to a tenth of a hertz, and none beyond."""
    units = ((MEGAHERTZ_FROM_HZ, 1e6, "MHz"), (KILOHERTZ_FROM_HZ, 1e3, "kHz"), (0.0, 1.0, "Hz"))
    size, unit = next((size, unit) for least, size, unit in units if abs(hz) >= least)
    return f"{number(round(hz, 1) / size)} {unit}"


def number(value: float) -> str:
    """Write a number with all the digits it was given, and none that binary arithmetic made up."""
    whole, _, decimals = f"{abs(value):.9f}".rstrip("0").rstrip(".").partition(".")
    grouped = f"{int(whole):,}".replace(",", NARROW_SPACE) if len(whole) > 4 else whole  # noqa: PLR2004 - SI 5.4.4
    is_negative = value < 0 and (whole, decimals) != ("0", "")
    return f"{MINUS if is_negative else ''}{grouped}{f'.{decimals}' if decimals else ''}"


def joined(*parts: object, by: str = " · ") -> str:
    """Join what there is; nothing, False and empty texts are left out."""
    return by.join(str(part) for part in parts if part)


def say_turns(turns: float | None, unit: str) -> str:
    """Say how far an adjuster was turned in all; `unit` is that of its scale, or turn."""
    if turns is None:
        return "as guided; the turns were not counted"
    if turns == 0:
        return "back to where it was"
    far = number(round(abs(turns), 2))
    if unit != "turn":
        return f"{far} of its scale {'up' if turns > 0 else 'down'} in all"
    way = "clockwise" if turns > 0 else "anticlockwise"
    return f"{far} {'turn' if far == '1' else 'turns'} {way} in all"


def without(items: Sequence[str], *less: str) -> list[str]:
    """Leave out what is said elsewhere already."""
    return [item for item in items if item not in less]
