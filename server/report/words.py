"""What steps and figures are, in words for who has never opened a receiver."""

import re

from sequences.plan.content import Step, StepKind
from server.report.quantities import MINUS

BEAT_OSCILLATOR = "beat_oscillator"

STEP_MEANS = {
    StepKind.WARM_UP: (
        "The oscillators of a receiver drift while it warms up, so that measuring begins when they no longer do."
    ),
    StepKind.OSCILLATOR: (
        "A fixed oscillator moves the signal from one filter to the next; off frequency, the signal misses the middle "
        "of the filters behind it."
    ),
    StepKind.CAN: (
        "A can holds a pair of tuned circuits that pass the receiver's inner signal, its intermediate frequency, and "
        "little else; off tune, the receiver hears less and keeps stations apart less well."
    ),
    StepKind.PEAK: "A tuned circuit passes the signal best when it is tuned to it; off tune, the receiver is deafer.",
    StepKind.PASSBAND: (
        "The passband is the slice of frequencies that reaches the ear; off centre or lopsided, it cuts one side of a "
        "signal."
    ),
    StepKind.SYMMETRY: "The passband control should move the passband as far one way as the other from its middle.",
    StepKind.DIAL: "The dial error is where the receiver really is, less what its dial says.",
    StepKind.ACTIVITY: (
        "Each band has a crystal that must oscillate; how hard it does is its activity. A weak one makes the band "
        "weak, and one that stops makes it dead."
    ),
    StepKind.PRESELECTOR: (
        "What comes from the antenna is tuned to the wanted station before anything else; off tune, weak stations are "
        "lost and strong ones break through from elsewhere."
    ),
}

BEAT_MEANS = (
    "The beat oscillator makes a bare carrier audible and speech without one intelligible; off frequency, tones and "
    "voices sound at the wrong pitch."
)

PART_OF_STEP = {
    "centre": "where the middle of the response is",
    "centre error": "how far that middle is from where it should be, as a share of the response's width",
    "3 dB width": "the width of the response between the two frequencies where half the power is left",
    "width error": "how far the width is from what it should be",
    "skew": "how lopsided the response is",
    "loaded Q": "how sharp the circuit is: its frequency divided by its width",
    "coupling kQ": "how strongly the two circuits of a can act on each other; at 1 they pass most with one hump",
    "dip between the humps": "how far the response sinks between two humps",
    "upper hump over lower hump": "how unequal two humps are",
    "level still to be gained": "how much stronger the signal would be with the circuit on its peak",
    "level gained": "how much stronger the signal became",
    "source level for the same output": "the input that gives the same output: less is better",
    "frequency error": "how far an oscillator is from its frequency",
    "beat oscillator error": "how far the beat oscillator is from its frequency",
    "pull of the pick-up": "how much the lead of the counter itself moved the oscillator",
    "disagreement of two injection points": "how far two ways to the same figure differ",
    "knob pointer error": "how far the knob stands from the mark it should peak at",
    "dial error": "where the receiver really is, less what its dial says",
    "pointer shift that makes the worst error smallest": "how far to slide the dial's pointer to be least wrong",
    "worst error after that shift": "the largest dial error that sliding the pointer would leave",
    "slope of the error over the scale": "how much the dial error grows from one end of the scale to the other",
    "bend at the high end": "how much the dial error departs from a straight line at the high end",
    "test point voltage": "the voltage by which an oscillator tells how hard it runs",
    "drift": "how fast the oscillator still crept",
    "highest note that passes": "the highest tone heard at one end of the passband control",
    "difference of the two ends": "how unequal the two ends of the passband control are",
}

MINUS_SIGN = re.compile(r"(?<![\w.])-(?=\d)")
"""What stands before a number, and not between two."""

ACTIVITY = "activity against band"
ACTIVITY_MEANS = "the same voltage as a level against that of the band named"

WORDS_USED = (
    ("As found, as left", "Before the first adjustment, and after the last."),
    (
        "\u00b1",
        "One standard uncertainty: in about 95 of 100 such cases the true value lies within twice as much.",
    ),
    (
        "Limit",
        "What the receiver's file asks for. Closer to it than twice its uncertainty, a figure is too close to call.",
    ),
    ("Oscillator", "A circuit that makes a steady frequency of its own, against which the wanted signal is mixed."),
    ("kHz, Hz", "Kilohertz and hertz: thousands of, and single, cycles a second."),
    ("dB", "Decibel: a ratio of strengths. 3 dB is half the power or double; 1 dB is hardly heard."),
    ("dBm", "Strength of a signal in dB over one thousandth of a watt; negative figures are weaker than that."),
    ("Slug, trimmer", "The screw-like core of a coil and the small variable capacitor by which circuits are tuned."),
)


def meaning_of(step: Step) -> str:
    """Say what a step is about."""
    return BEAT_MEANS if step.subject == BEAT_OSCILLATOR else STEP_MEANS[step.kind]


def figure_meaning(name: str) -> str:
    """Say what a figure is; nothing where its name says it."""
    return ACTIVITY_MEANS if name.startswith(ACTIVITY) else PART_OF_STEP.get(name, "")


def sentence_start(text: str) -> str:
    """Write a name so that a sentence may begin with it."""
    return f"{text[:1].upper()}{text[1:]}"


def typeset(text: str) -> str:
    """Write a sentence of a measurement, which speaks plain ASCII, as paper does."""
    return sentence_start(MINUS_SIGN.sub(MINUS, text.replace("+-", "\u00b1")))


def listed(items: tuple[str, ...]) -> str:
    """Write a list as people do: a, b and c."""
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}"
