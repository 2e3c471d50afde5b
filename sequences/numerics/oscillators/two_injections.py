"""A signal let in before a mixer and one let in behind it: what each zero beat tells, and whether the two agree.

Both beats contain the error of every oscillator behind the mixer; they differ by exactly the mixer's own oscillator.
An error here is always the beat oscillator minus the frequency that the nominal signal arrives at, in Hz.
"""

import math
from dataclasses import dataclass
from typing import Literal

from sequences.numerics.figures import Estimate
from sequences.numerics.wording import say_hz

SURE_SIGMAS = 2.0

Side = Literal["high", "low", "sum"]


def error_at_beat(zero_hz: Estimate, nominal_hz: float, *, turned_over: bool) -> Estimate:
    """Turn the source's frequency at zero beat into the beat oscillator's error against the arriving signal.

    Args:
        zero_hz: The source's frequency at zero beat.
        nominal_hz: Where it should be.
        turned_over: An odd number of conversions with the oscillator on the high side lies between.
    """
    off_hz = zero_hz.value - nominal_hz
    return Estimate(-off_hz if turned_over else off_hz, zero_hz.sigma)


def mixer_oscillator_error(through: Estimate, behind: Estimate, side: Side, *, turned_over_after: bool) -> Estimate:
    """Tell the error of the oscillator of the mixer that lies between the two points.

    With the oscillator high by d the mixer's product is low by d where the oscillator runs low, else high by d; an odd
    number of high-side conversions after it turns that over once more.

    Args:
        through: The beat's error with the source before the mixer.
        behind: The same with the source behind it.
        side: On which side of its input the mixer's oscillator runs.
        turned_over_after: An odd number of high-side conversions lies behind this mixer.
    """
    sign = 1.0 if (side == "low") is not turned_over_after else -1.0
    return Estimate(sign * (through.value - behind.value), math.hypot(through.sigma, behind.sigma))


@dataclass(frozen=True, slots=True)
class Agreement:
    """How two injection points compare. `agree` is None where that is too close to call.

    `balance_hz`: what to add to the beat oscillator so that both points are off alike, one high and one low;
    `left_hz`: by how much each is then off.
    """

    difference_hz: Estimate
    agree: bool | None
    balance_hz: float
    left_hz: float
    text: str


def agreement(through: Estimate, behind: Estimate, limit_hz: float) -> Agreement:
    """Compare the errors at two injection points, and find the balance that halves what they disagree by."""
    difference = Estimate(through.value - behind.value, math.hypot(through.sigma, behind.sigma))
    balance_hz = -0.5 * (through.value + behind.value)
    left_hz = 0.5 * abs(difference.value)
    agree: bool | None = abs(difference.value) <= limit_hz
    if abs(abs(difference.value) - limit_hz) <= SURE_SIGMAS * difference.sigma:
        agree = None
    return Agreement(difference, agree, balance_hz, left_hz, _say(difference, agree, balance_hz, left_hz))


def _say(difference: Estimate, agree: bool | None, balance_hz: float, left_hz: float) -> str:
    apart = say_hz.known_to(Estimate(abs(difference.value), difference.sigma))
    if agree:
        return f"Zero beat through the mixer and behind it agree to {apart}."
    way = "higher" if balance_hz > 0.0 else "lower"
    certainty = "may disagree" if agree is None else "disagree"
    return (
        f"Zero beat through the mixer and behind it {certainty}, by {apart}; where that cannot be put right, a beat "
        f"oscillator {say_hz(abs(balance_hz))} {way} halves the error, to {say_hz(left_hz)} on either side."
    )
