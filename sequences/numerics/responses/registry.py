"""Every kind of curve that is compared: one line a kind. What a kind is, its own class says (`curves.Curve`).

The fitter goes through all of these. A kind that gives starts of its own is fitted from them. Those that do not are
fitted by `kinds`, in an order in which each helps the next.
"""

from sequences.numerics.responses.curves import (
    COUPLED_CANS,
    EQUAL_CIRCUITS,
    SKEWED_CANS,
    SKEWED_CIRCUITS,
    SKEWED_PAIR,
    STAGGERED_CIRCUITS,
    SYMMETRICAL_PAIR,
    Curve,
)
from sequences.numerics.responses.flat_top import FLAT_TOPS

KINDS: tuple[Curve, ...] = (
    *EQUAL_CIRCUITS,
    SYMMETRICAL_PAIR,
    SKEWED_PAIR,
    *COUPLED_CANS,
    *SKEWED_CANS,
    *FLAT_TOPS,
    *STAGGERED_CIRCUITS,
    *SKEWED_CIRCUITS,
)
"""A flat top of two poles is the coupled pair, so flat tops start at three."""
