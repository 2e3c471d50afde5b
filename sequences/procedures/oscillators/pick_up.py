"""Count an oscillator by a loose pick-up, and find out how much the pick-up pulls it."""

import math
from collections.abc import Generator
from dataclasses import dataclass, replace
from typing import Any

from sequences.engine.asks import leads_of
from sequences.engine.requests import Ask, Request, asking
from sequences.engine.steps import ask, count_frequency
from sequences.errors import SequenceError
from sequences.numerics.figures import Estimate, mean_of
from sequences.numerics.oscillators.counting import count_sigma_hz
from sequences.numerics.wording import say_hz
from sequences.receiver.hookups import Hookup

GATE_S = 1.0
COUNTS = 3
ATTEMPTS = 3

TWICE_AS_FAR = "moved off to twice the distance"

LEFT_PULL = 1.0 / math.sqrt(3.0)
"""Of what the count changed by when the pick-up went twice as far off: what is left of the pull is anything from
nothing to as much again (it falls at least with the first power of the distance), even chances between."""


@dataclass(frozen=True, slots=True)
class Pull:
    """How much the count changed, in Hz, when the pick-up was moved off; the later counts are taken from there."""

    moved_hz: Estimate

    @property
    def left_sigma_hz(self) -> float:
        """Give the one-sigma of what the pick-up, where it now lies, still pulls by."""
        return LEFT_PULL * abs(self.moved_hz.value)


def count(purpose: str, gate_s: float = GATE_S, counts: int = COUNTS) -> Generator[Request, Any, Estimate]:
    """Count several times, and give the mean with its one-sigma. A counter that says 0 Hz has counted nothing.

    Raises:
        SequenceError: the counter gives no number again and again.
    """
    values: list[float] = []
    for _ in range(counts + ATTEMPTS):
        reading = yield from count_frequency(gate_s, purpose)
        if reading.value is not None and reading.value > 0.0:
            values.append(reading.value)
        if len(values) == counts:
            # Whether the counter is direct or reciprocal is not known: the worse is assumed.
            return mean_of(values, count_sigma_hz(values[0], gate_s)).for_few_repeats()
    raise SequenceError(
        "The counter gave no steady count: lay the pick-up closer, see that the oscillator is on, or raise the gain."
    )


def moved_off(hookup: Hookup) -> Hookup:
    """Give the hookup with the counter's pick-up at twice its distance."""
    return replace(hookup, counter_through=f"{hookup.counter_through}, {TWICE_AS_FAR}")


def find_pull(hookup: Hookup, near: Estimate) -> Generator[Request, Any, Pull]:
    """Have the pick-up moved off to twice its distance from where it counted `near`, and count again.

    Raises:
        SequenceError: nothing could be counted there.
    """
    yield from ask(_moved_off(hookup))
    far = yield from count("pick-up far")
    return Pull(Estimate(far.value - near.value, math.hypot(far.sigma, near.sigma)))


def pull_doubt(pull: Pull, limit_hz: float) -> tuple[str, ...]:
    """Say so where the pull that may be left counts against a limit."""
    if pull.left_sigma_hz <= limit_hz / 4.0:
        return ()
    moved = say_hz(abs(pull.moved_hz.value))
    text = f"The pick-up pulls: moving it off changed the count by {moved}; move it farther off and measure again."
    return (text,)


def _moved_off(hookup: Hookup) -> Ask:
    text = (
        f"Switch off. Move the counter's pick-up to twice its distance from the {hookup.counter_to}. Change nothing "
        "else. Switch on. If the count changes, the pick-up was too close."
    )
    return asking(leads_of(replace(moved_off(hookup), controls={})), text)
