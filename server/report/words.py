"""What steps and figures are, in words for who has never opened a receiver."""

import re

from server.report.quantities import MINUS

MINUS_SIGN = re.compile(r"(?<![\w.])-(?=\d)")
"""What stands before a number, and not between two."""

WORDS_USED = (
    ("As found, as left", "Before the first adjustment, and after the last."),
    (
        "\u00b1",
        "Half the 95 % interval: in about 95 of 100 such cases the true value lies within it.",
    ),
    (
        "Limit",
        "What the receiver's file asks for. A figure whose \u00b1 reaches it is too close to call.",
    ),
    ("Oscillator", "A circuit that makes a steady frequency of its own, against which the wanted signal is mixed."),
    ("kHz, Hz", "Kilohertz and hertz: thousands of, and single, cycles a second."),
    ("dB", "Decibel: a ratio of strengths. 3 dB is half the power or double; 1 dB is hardly heard."),
    ("dBm", "Strength of a signal in dB over one thousandth of a watt; negative figures are weaker than that."),
    ("Slug, trimmer", "The screw-like core of a coil and the small variable capacitor by which circuits are tuned."),
)


def sentence_start(text: str) -> str:
    """Write a name so that a sentence may begin with it."""
    return f"{text[:1].upper()}{text[1:]}"


def typeset(text: str) -> str:
    """Write a sentence of a measurement, which speaks plain ASCII, as paper does."""
    return sentence_start(MINUS_SIGN.sub(MINUS, text.replace("+-", "\u00b1")))


def listed(items: tuple[str, ...]) -> str:
    """Write a list as people do: a, b and c."""
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}"
