"""Figures for people: rounded to two digits of their uncertainty, in the unit the trade would use."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from sequences.numerics.figures import Estimate

MINUS, PLUS_MINUS, THIN_SPACE = "\u2212", "\u00b1", "\u202f"
NONE = "\u2013"

PREFIXES: dict[str, tuple[tuple[float, str], ...]] = {
    "Hz": ((1e3, "kHz"), (1.0, "Hz")),
    "V": ((1.0, "V"), (1e-3, "mV"), (1e-6, "\u00b5V")),
}
"""Units of one quantity, the largest first. Radio people read kHz up to the end of short wave."""

IN_BASE = {"kHz": (1e3, "Hz"), "Hz": (1.0, "Hz"), "V": (1.0, "V")}
SHOWN = {"% of the 3 dB width": "%"}
"""Units that the figure's own name makes plain enough to be shortened."""

IN_WORDS = {"% of the 3 dB width": "% of its width"}

UNCERTAIN_DIGITS = 2
MOST_PLACES = 6
PLAIN_FIGURES = 4
WORDS_FIGURES = 3
FINEST_IN_WORDS = {"dB": 0.01, "Hz": 0.1, "kHz": 0.0001, "%": 0.1, "% of the 3 dB width": 0.1, "marks": 0.01}
"""What is smaller is not told apart in a sentence."""

SURE_SIGMAS = 2.0
ROUNDING = 1e-9


@dataclass(frozen=True, slots=True)
class Scale:
    """How a row's figures are shown: multiplied by `factor`, in `unit`."""

    factor: float
    unit: str


def scale_for(unit: str, sizes: Iterable[float]) -> Scale:
    """Choose one unit for figures that stand side by side, by the largest of them."""
    if unit not in IN_BASE:
        return Scale(1.0, SHOWN.get(unit, unit))
    to_base, base = IN_BASE[unit]
    largest = max((abs(size) * to_base for size in sizes if math.isfinite(size)), default=0.0)
    size, name = next((each for each in PREFIXES[base] if largest >= each[0]), PREFIXES[base][-1])
    return Scale(to_base / size, name if largest > 0.0 else base)


def say_estimate(figure: Estimate, scale: Scale, *, signed: bool = False) -> str:
    """Write a figure with half its 95 % interval and its unit: 60.02972 \u00b1 0.00096 kHz."""
    value, spread = figure.value * scale.factor, figure.expanded * scale.factor
    if not math.isfinite(spread):
        return f"{say_plain(value, scale.unit, signed=signed)}, uncertainty unknown"
    if spread <= 0.0:
        return say_plain(value, scale.unit, signed=signed)
    rounded, places = round_to_two(spread)
    if places > MOST_PLACES:
        return f"{say_plain(value, scale.unit, signed=signed)}, uncertainty below all that is shown"
    shown = max(places, 0)
    text = f"{_number(round(value, places), shown, signed=signed)} {PLUS_MINUS} {rounded:.{shown}f}"
    return with_unit(text, scale.unit)


def round_to_two(sigma: float) -> tuple[float, int]:
    """Round an uncertainty to two digits; give it with the decimal place of the second one, negative left of the point.

    0.0996 becomes 0.10, to two places: the place is found after rounding.
    """
    mantissa = f"{sigma:.{UNCERTAIN_DIGITS - 1}e}"
    places = UNCERTAIN_DIGITS - 1 - int(mantissa.split("e")[1])
    return float(mantissa), places


def say_plain(value: float, unit: str, *, figures: int = PLAIN_FIGURES, signed: bool = False) -> str:
    """Write a value that has no uncertainty, to a few figures, without an exponent and trailing noughts."""
    if value == 0.0 or not math.isfinite(value):
        return with_unit("0" if value == 0.0 else "unknown", unit)
    places = min(max(figures - 1 - math.floor(math.log10(abs(value))), 0), MOST_PLACES)
    text = _number(value, places, signed=signed)
    return with_unit(text.rstrip("0").rstrip(".") if "." in text else text, unit)


def say_in_words(value: float, unit: str) -> str:
    """Write the size of a figure for a sentence, to three figures in its own best unit: 335 Hz."""
    scale = scale_for(unit, (value,))
    return say_plain(abs(value) * scale.factor, IN_WORDS.get(unit, scale.unit), figures=WORDS_FIGURES)


def is_sure(figure: Estimate) -> bool:
    """Tell whether a figure is surely not nought."""
    return abs(figure.value) > SURE_SIGMAS * figure.sigma


def say_size(figure: Estimate, unit: str) -> str:
    """Write the size of a figure for a sentence, no finer than it is known: 335 Hz, less than 3 Hz."""
    finest = FINEST_IN_WORDS.get(unit, 0.0)
    if not math.isfinite(figure.sigma):
        return f"about {say_in_words(figure.value, unit)}"
    if not is_sure(figure) or abs(figure.value) < finest:
        most = max(round_up(abs(figure.value) + SURE_SIGMAS * figure.sigma), finest)
        return f"less than {say_in_words(most, unit)}"
    if figure.sigma <= 0.0:
        return say_in_words(figure.value, unit)
    _, places = round_to_two(figure.expanded)
    return say_in_words(round(figure.value, places), unit)


def round_up(size: float) -> float:
    """Round a size above nought up to one figure."""
    if size <= 0.0:
        return 0.0
    place = 10.0 ** math.floor(math.log10(size))
    return math.ceil(size / place - ROUNDING) * place


def with_unit(text: str, unit: str) -> str:
    """Put the unit after a number; they stay on one line."""
    return f"{text}{THIN_SPACE if unit.startswith('%') else NO_BREAK}{unit}" if unit else text


NO_BREAK = "\u00a0"


def _number(value: float, places: int, *, signed: bool) -> str:
    text = f"{abs(value):.{places}f}"
    is_nought = not text.strip("0.")
    if value < 0.0 and not is_nought:
        return f"{MINUS}{text}"
    return f"+{text}" if signed and not is_nought else text
