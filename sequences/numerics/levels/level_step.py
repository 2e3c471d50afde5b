"""Does a little less at the source give as much less here? What a step at the peak says of the detector's law.

A step of 3 dB is read where a 3 dB width is read. A law that does not give 3 dB there gives no width.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from sequences.numerics.figures import Doubt, DoubtName, Estimate
from sequences.numerics.responses.passband import PassbandFit

STEP_DB = 3.0
SURE_SIGMAS = 3.5
LEAST_OFF_DB = 0.1
"""An error smaller than this moves a width by less than 3 %: such a law is taken as right."""

FLAT = 0.25
"""Apparent dB for each dB of the source below which the top does not bend but is cut off."""


@dataclass(frozen=True, slots=True)
class LevelStep:
    """What a step of `STEP_DB` at the source looked like, in dB, and one sigma of that."""

    seen_db: float
    sigma_db: float

    @property
    def is_right(self) -> bool:
        """Whether the law gives the step as it was made."""
        return abs(self.seen_db - STEP_DB) <= max(SURE_SIGMAS * self.sigma_db, LEAST_OFF_DB)

    def doubt(self) -> Doubt | None:
        """What is wrong with the law, if anything is."""
        if self.is_right:
            return None
        seen = f"{STEP_DB:g} dB less at the source reads as {self.seen_db:.1f} dB less at the peak"
        if self.seen_db < FLAT * STEP_DB:
            text = f"{seen}: the meter or a stage before it is saturated. No width is given. Lower the source level."
            return Doubt(DoubtName.SATURATED, text)
        text = (
            f"{seen}: the detector follows another law, or the top is flattened. No width is given. Calibrate the "
            "detector, or lower the source level."
        )
        return Doubt(DoubtName.DETECTOR_LAW, text)


def judge_step(at_level_db: Sequence[float], below_db: Sequence[float], noise_db: float) -> LevelStep | None:
    """Judge levels, in dB, read in turns at the peak with the source as in the scan and `STEP_DB` below it.

    None where nothing was read, or it varies by more than the step. `noise_db` is one sigma of a reading.
    """
    if not at_level_db or not below_db:
        return None
    sigma = noise_db * math.hypot(len(at_level_db) ** -0.5, len(below_db) ** -0.5)
    seen = float(np.mean(at_level_db) - np.mean(below_db))
    return LevelStep(seen, sigma) if math.isfinite(seen) and sigma < STEP_DB else None


def without_widths(fit: PassbandFit) -> PassbandFit:
    """The fit without what follows from how far down a level is: edges, widths, loaded Q and coupling.

    The middle of a curve that is symmetrical in exact detuning lies W^2 / 8 f0 above f0, where W is the width at the
    depth it is taken at: as that is not known, so much more is the centre uncertain.
    """
    centre = fit.centre
    if centre is not None and fit.width_3db is not None:
        unknown_hz = fit.width_3db.value**2 / (8.0 * centre.value)
        centre = Estimate(centre.value, math.hypot(centre.sigma, unknown_hz))
    return replace(
        fit,
        centre=centre,
        lower_3db=None,
        upper_3db=None,
        width_3db=None,
        width_6db=None,
        width_60db=None,
        loaded_q=None,
        coupling=None,
    )
