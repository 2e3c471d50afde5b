"""See that a counter counts the oscillator it is meant to, and have it put right where it does not."""

from collections.abc import Generator, Mapping
from typing import Any

from sequences.engine.asks import choose, say_standing
from sequences.engine.requests import Request
from sequences.errors import SequenceError
from sequences.numerics.figures import Estimate
from sequences.numerics.oscillators.plausible_count import doubt_of_count
from sequences.procedures.oscillators.pick_up import count
from sequences.receiver.hookups import Hookup

SUBJECT, AGAIN, LEAVE = "count", "count again", "leave it"
MOST_ASKED = 3
"""How often the person is asked to look, before the figure is left out."""


def count_what_is_meant(
    hookup: Hookup, nominal_hz: float, others_hz: Mapping[str, float]
) -> Generator[Request, Any, Estimate]:
    """Count; where the count cannot be this oscillator's, ask the person to look, and count again.

    Raises:
        SequenceError: it still cannot be; the sentence says what was counted. Such a count is no error of the circuit.
    """
    for asked in range(MOST_ASKED + 1):
        counted = yield from count("oscillator")
        doubt = doubt_of_count(counted.value, nominal_hz, others_hz)
        if doubt is None:
            return counted
        if asked == MOST_ASKED or (yield from choose(SUBJECT, f"{doubt} {_look(hookup)}", (AGAIN, LEAVE))) == LEAVE:
            break
    raise SequenceError(f"{doubt} The oscillator was not judged by it.")


def _look(hookup: Hookup) -> str:
    controls = say_standing(hookup.controls)
    settings = f", and that these stand as they should: {controls}" if controls else ""
    return f"Check that the counter's lead is at the {hookup.counter_to}{settings}."
