"""A response that goes as the square of the signal: what it is down by depends on how strong the wanted signal is.

The output of such a response rises by two decibels for one of the source. With the wanted signal weaker by a decibel,
the unwanted one is weaker by half a decibel at the same output: its rejection is half a decibel more. So a rejection is
told for a stated wanted signal. Source: half-IF rejection as half of (second-order intercept less wanted signal), the
usual receiver-design formula (from memory).
"""

import math
from dataclasses import dataclass

from sequences.numerics.figures import Estimate

SQUARE = 2.0
SURE_SIGMAS = 4.0
NEARLY = 0.25
"""An order this near to two is two: a detector's law and a drift are not told apart from it."""


@dataclass(frozen=True, slots=True)
class EqualOutputs:
    """The source's power in dBm for the same output, on the signal and on the unwanted frequency."""

    wanted: Estimate
    unwanted: Estimate


def rejection_for(at: EqualOutputs, wanted_dbm: float) -> Estimate:
    """Give the rejection of a square response for a wanted signal of so many dBm, from equal outputs at another."""
    rejection_db = at.unwanted.value - at.wanted.value + 0.5 * (at.wanted.value - wanted_dbm)
    return Estimate(rejection_db, math.hypot(at.unwanted.sigma, 0.5 * at.wanted.sigma))


def bound_for(highest_dbm: float, heard_dbm: float, wanted_dbm: float) -> float:
    """Give the least rejection for a wanted signal, where the source at its highest was not heard.

    `heard_dbm`: the weakest wanted signal that is heard.
    """
    return highest_dbm - heard_dbm + 0.5 * (heard_dbm - wanted_dbm)


def order_of(strong: EqualOutputs, weak: EqualOutputs) -> Estimate:
    """Give how many dB the unwanted output rises for each dB of the source, from two outputs."""
    wanted_db = strong.wanted.value - weak.wanted.value
    unwanted_db = strong.unwanted.value - weak.unwanted.value
    order = wanted_db / unwanted_db
    parts = (
        math.hypot(strong.wanted.sigma, weak.wanted.sigma) / wanted_db,
        math.hypot(strong.unwanted.sigma, weak.unwanted.sigma) / unwanted_db,
    )
    return Estimate(order, abs(order) * math.hypot(*parts))


def is_square(order: Estimate) -> bool:
    """Tell whether an order may be two."""
    return abs(order.value - SQUARE) <= max(NEARLY, SURE_SIGMAS * order.sigma)
