"""The decision rule: from a figure, its uncertainty and a tolerance to within, beyond, or too close to call.

Guarded acceptance and guarded rejection of JCGM 106:2012, clauses 8.3.2 and 8.3.3: a figure is called within its
limits only where the chance that it is not is at most `RISK`, and beyond them only where the chance that it is within
is at most `RISK`. With one limit near, that is a guard band of two standard uncertainties (the guide's w = U, its
coverage factor 2). What lies between is not decided: it is measured again.
"""

import math
from dataclasses import dataclass
from enum import StrEnum

from sequences.numerics.figures import Estimate

GUARD_SIGMAS = 2.0
RISK = 0.5 * math.erfc(GUARD_SIGMAS / math.sqrt(2.0))
"""The chance, 2.3 %, of a wrong word that is run with each figure on the edge of its guard band."""

MOST_REPEATS = 25
"""A figure that would take more repeats than this stands at its limit, and will stay there."""


class Standing(StrEnum):
    """Where a figure stands to its limit, its uncertainty counted."""

    WITHIN = "within its limit"
    AT_LIMIT = "within its uncertainty of its limit"
    BEYOND = "beyond its limit"


@dataclass(frozen=True, slots=True)
class Tolerance:
    """What is allowed, ends included: from `lower` to `upper`, either of which may be infinite."""

    lower: float = -math.inf
    upper: float = math.inf


def conformance_probability(figure: Estimate, allowed: Tolerance) -> float:
    """Give the chance that the true value is within the tolerance (JCGM 106:2012, 7.2 to 7.4).

    p = F((upper - y) / u) - F((lower - y) / u), F the normal distribution, or Student's where the degrees of freedom
    are told. Not a number where the figure or its uncertainty is none.
    """
    if not math.isfinite(figure.value) or math.isnan(figure.sigma):
        return math.nan
    if figure.sigma == 0.0:
        return float(allowed.lower <= figure.value <= allowed.upper)
    if math.isinf(figure.sigma):
        return 0.5 if math.isinf(allowed.lower) or math.isinf(allowed.upper) else 0.0
    from scipy.special import ndtr, stdtr  # noqa: PLC0415 - keeps scipy out of the start of every command

    ends = [(end - figure.value) / figure.sigma for end in (allowed.lower, allowed.upper)]
    below, above = (float(ndtr(end) if math.isinf(figure.freedom) else stdtr(figure.freedom, end)) for end in ends)
    return above - below


def standing(figure: Estimate, allowed: Tolerance) -> Standing:
    """Decide. What is no figure, or known so badly that its best value says nothing, is never decided."""
    within = conformance_probability(figure, allowed)
    if within >= 1.0 - RISK:
        return Standing.WITHIN
    # A figure that is merely vague is beyond nothing, however small the tolerance is against its uncertainty.
    outside = not allowed.lower <= figure.value <= allowed.upper
    return Standing.BEYOND if outside and _beyond_nearer(figure, allowed) <= RISK else Standing.AT_LIMIT


def _beyond_nearer(figure: Estimate, allowed: Tolerance) -> float:
    """Give the chance that the true value is on the good side of the limit that the figure is beyond."""
    if figure.value > allowed.upper:
        return conformance_probability(figure, Tolerance(upper=allowed.upper))
    return conformance_probability(figure, Tolerance(lower=allowed.lower))


def repeats_to_decide(figure: Estimate, allowed: Tolerance) -> int | None:
    """Give about how many such measurements, averaged, would decide, this one among them.

    With n of them the uncertainty falls as 1 / sqrt n, and the guard band with it; the figure is taken to stay where
    it is. None where the figure says nothing, or would take more than `MOST_REPEATS`.
    """
    nearest = min(abs(figure.value - end) for end in (allowed.lower, allowed.upper))
    if not (math.isfinite(nearest) and math.isfinite(figure.sigma) and nearest > 0.0):
        return None
    for repeats in range(2, MOST_REPEATS + 1):
        mean = Estimate(figure.value, figure.sigma / math.sqrt(repeats))
        if standing(mean, allowed) is not Standing.AT_LIMIT:
            return repeats
    return None
