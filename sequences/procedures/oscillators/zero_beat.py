"""Bring the source to zero beat with the beat oscillator by two counted beats, one on either side."""

import math
from collections.abc import Generator
from typing import Any

from sequences.engine.requests import Request
from sequences.engine.steps import count_frequency, set_frequency, settle
from sequences.errors import SequenceError
from sequences.numerics.figures import Estimate, mean_of
from sequences.numerics.oscillators.beats import offset_beat
from sequences.numerics.oscillators.counting import count_sigma_hz
from sequences.numerics.wording import say_hz

GATE_S = 0.2
COUNTS = 2
OFFSET_IN_WIDTHS = 0.35
"""Of the passband's 3 dB width: both beats are then well inside it, though its middle is only roughly known."""

MOST_ROUNDS = 4
NEAR_ENOUGH = 0.05
"""Of the offset: beats as equal as this were counted about zero beat, where what bends them bends both alike."""

FAR_IN_WIDTHS = 3.0
"""Of the passband's 3 dB width: a beat as high as this does not come through it, so that something else is counted."""

ASIDE = 0.5
"""Of the offset: how far to move where a beat was too low to be counted."""


def zero_beat(near_hz: float, width_hz: float, settle_s: float) -> Generator[Request, Any, Estimate]:
    """Give the source frequency of zero beat, near where the passband's top was seen.

    Half the difference of the two beats tells how far zero beat is from the middle between them, half their sum must
    be the offset again.

    Raises:
        SequenceError: no two beats that belong together could be counted.
    """
    offset_hz = OFFSET_IN_WIDTHS * width_hz
    middle_hz, why = near_hz, ""
    for _ in range(MOST_ROUNDS):
        above, below = yield from _both_sides(middle_hz, offset_hz, settle_s)
        if all(beat.value > FAR_IN_WIDTHS * width_hz for beat in (above, below)):
            why = (
                f"the counter reads {say_hz(below.value)}, and a beat of about {say_hz(offset_hz)} is expected. "
                "See that its lead is where the beat is heard, that the beat oscillator is on, and that the controls "
                "are set as asked."
            )
            continue
        found = offset_beat(above, below, offset_hz)
        if found.error_hz is None:
            why = found.doubts[0].text
            middle_hz += ASIDE * offset_hz
            continue
        at_hz = middle_hz + found.error_hz.value
        if not found.doubts and abs(found.error_hz.value) < NEAR_ENOUGH * offset_hz:
            return Estimate(at_hz, found.error_hz.sigma)
        middle_hz, why = at_hz, "the beats on the two sides do not come out alike"
    raise SequenceError(f"Zero beat was not found near {say_hz(near_hz)}: {why}")


def _both_sides(
    middle_hz: float, offset_hz: float, settle_s: float
) -> Generator[Request, Any, tuple[Estimate, Estimate]]:
    above = yield from _beat(middle_hz + offset_hz, settle_s)
    below = yield from _beat(middle_hz - offset_hz, settle_s)
    return above, below


def _beat(source_hz: float, settle_s: float) -> Generator[Request, Any, Estimate]:
    """Count the beat with the source there; not a number where it is too low or too faint to be counted."""
    yield from set_frequency(source_hz)
    yield from settle(settle_s)
    counts = []
    for _ in range(COUNTS):
        reading = yield from count_frequency(GATE_S, "beat")
        counts.append(math.nan if reading.value is None else reading.value)
    # Whether the counter is direct or reciprocal is not known: the worse is assumed.
    return mean_of(counts, count_sigma_hz(max(counts), GATE_S))
