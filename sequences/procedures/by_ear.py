"""Zero beat by ear: the person says whether a note is heard, and the middle between its two just-audible edges counts.

The silent zone is found by the sense of the note's change: where the note rises with the source, the source is above.
"""

from collections.abc import Generator
from typing import Any

from sequences.engine.asks import choose
from sequences.engine.requests import Ask, Request
from sequences.engine.steps import ask, set_frequency, settle
from sequences.errors import SequenceError
from sequences.numerics.beats import split_edges
from sequences.numerics.figures import Estimate
from sequences.numerics.wording import say_hz

ROSE, FELL, SILENT, HEARD, AGAIN = "rose", "fell", "silent", "heard", "again"

REACH_HZ = 2000.0
STEP_UP_HZ = 20.0
LISTEN_S = 1.5
FINEST_HZ = 2.0
FIRST_REACH_HZ = 25.0
MOST_QUESTIONS = 20

EDGE_SIGMA_HZ = 3.0
"""How well an edge is set by ear, one sigma (common practice, no source); the split halves what both share."""


def zero_beat_by_ear(near_hz: float) -> Generator[Request, Any, Estimate]:
    """Give the source's frequency at zero beat, looked for within `REACH_HZ` of where it should be.

    Raises:
        SequenceError: no silent zone was found, or its edges came out the wrong way round.
    """
    silent_hz = yield from _silent_zone(near_hz)
    lower_hz = yield from _edge(silent_hz, -1)
    upper_hz = yield from _edge(silent_hz, 1)
    split = split_edges(lower_hz, upper_hz, EDGE_SIGMA_HZ)
    if split.zero_hz is None:
        raise SequenceError(split.doubts[0].text)
    return split.zero_hz


def _silent_zone(near_hz: float) -> Generator[Request, Any, float]:
    """Halve the range, towards where the note falls, until there is no note."""
    low_hz, high_hz = near_hz - REACH_HZ, near_hz + REACH_HZ
    at_hz = near_hz
    for _ in range(MOST_QUESTIONS):
        heard = yield from _sense(at_hz)
        if heard == SILENT:
            return at_hz + STEP_UP_HZ
        if heard == ROSE:
            high_hz = at_hz
        elif heard == FELL:
            low_hz = at_hz
        at_hz = 0.5 * (low_hz + high_hz)
    raise SequenceError(
        f"No silent zone was found within {say_hz(REACH_HZ)} of {say_hz(near_hz)}: see that the beat oscillator is on "
        "and the note is loud, and measure again."
    )


def _sense(at_hz: float) -> Generator[Request, Any, str]:
    """Let the note be heard there and a little higher, and ask what it did."""
    yield from set_frequency(at_hz)
    yield from settle(LISTEN_S)
    yield from set_frequency(at_hz + STEP_UP_HZ)
    text = "Listen: the source has just gone up a little. Did the note rise, did it fall, or is there none?"
    detail = {"from_hz": at_hz, "to_hz": at_hz + STEP_UP_HZ}
    return (yield from ask(Ask("choose", "beat note", text, (ROSE, FELL, SILENT, AGAIN), detail)))


def _edge(silent_hz: float, side: int) -> Generator[Request, Any, float]:
    """Find where the note is just heard on one side: outwards until it is, then by halves."""
    silent, heard = silent_hz, silent_hz + side * FIRST_REACH_HZ
    while not (yield from _is_heard(heard)):
        silent, heard = heard, silent_hz + 2.0 * (heard - silent_hz)
        if abs(heard - silent_hz) > REACH_HZ:
            raise SequenceError(
                f"No note is heard {say_hz(REACH_HZ)} from the silent zone: turn the volume up and measure again."
            )
    while abs(heard - silent) > FINEST_HZ:
        middle = 0.5 * (heard + silent)
        if (yield from _is_heard(middle)):
            heard = middle
        else:
            silent = middle
    return 0.5 * (heard + silent)


def _is_heard(at_hz: float) -> Generator[Request, Any, bool]:
    yield from set_frequency(at_hz)
    answer = yield from choose("beat note", "Listen: is the beat note heard at all?", (HEARD, SILENT))
    return answer == HEARD
