"""Crystal activity: the test-point voltages of all bands against a reference band, taken as zero.

The voltage is the oscillator's own grid bias: more negative means stronger oscillation (common practice, no source).
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from sequences.numerics.figures import Estimate

STOPPED_SHARE = 0.02
"""Of the strongest band's voltage: what is less is leakage, not oscillation."""

STOPPED_SIGMAS = 6.0
DB_PER_NEPER = 20.0 / math.log(10.0)


@dataclass(frozen=True, slots=True)
class Activities:
    """Each band's activity in dB against the reference band; the bands that have stopped; those that read positive.

    `reference_db`: the reference band against the middle (median) of the other running bands; None where there are
    none or it has stopped itself, and then `against_reference` is empty.
    """

    against_reference: Mapping[str, Estimate]
    stopped: frozenset[str]
    positive: frozenset[str]
    reference_db: Estimate | None


def activities(volts: Mapping[str, Estimate], reference: str) -> Activities:
    """Compare the bands.

    Args:
        volts: The test point's voltage on each band.
        reference: The band taken as zero.

    Raises:
        ValueError: the reference band was not read.
    """
    if reference not in volts:
        raise ValueError(f"Band {reference} was not read, so nothing can be compared with it.")
    positive = frozenset(band for band, read in volts.items() if read.value > STOPPED_SIGMAS * read.sigma)
    strongest = max(abs(read.value) for read in volts.values())
    stopped = frozenset(band for band, read in volts.items() if is_stopped(read, strongest)) - positive
    running = {band: read for band, read in volts.items() if band not in stopped | positive}
    if reference not in running:
        return Activities({}, stopped, positive, None)
    against = {band: _ratio_db(read, running[reference]) for band, read in running.items()}
    against[reference] = Estimate(0.0, 0.0)
    others = [against[band] for band in running if band != reference]
    middle = None
    if others:
        nearest = sorted(others, key=lambda each: each.value)[len(others) // 2]
        middle = Estimate(-float(np.median([each.value for each in others])), nearest.sigma)
    return Activities(against, stopped, positive, middle)


def is_stopped(read: Estimate, strongest_v: float) -> bool:
    """Tell whether a voltage is no oscillation at all."""
    return abs(read.value) <= max(STOPPED_SIGMAS * read.sigma, STOPPED_SHARE * strongest_v)


def _ratio_db(read: Estimate, reference: Estimate) -> Estimate:
    sigma = DB_PER_NEPER * math.hypot(read.sigma / read.value, reference.sigma / reference.value)
    return Estimate(DB_PER_NEPER * math.log(read.value / reference.value), sigma)
