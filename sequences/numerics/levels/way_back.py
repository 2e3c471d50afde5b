"""The same places read again on the way back: what a sweep one way cannot show of itself.

A meter that lags draws a response later on the way, whichever way that is. A frequency that drifts draws it where it
was when it was read. Either stands between the way there and the way back as a shift.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from sequences.numerics.arrays import Array
from sequences.numerics.figures import Doubt, DoubtName, Estimate
from sequences.numerics.responses.passband import PassbandFit

PLACES_OF_WIDTH = np.array([0.68, 0.56, 0.46, 0.36, -0.36, -0.46, -0.56, -0.68])
"""Where to read again, in widths off the centre: on both skirts, downwards, about where they tell most."""

SURE_SIGMAS = 3.5
_SLOPE_STEP = 1e-3


@dataclass(frozen=True, slots=True)
class WayBack:
    """By how much the response stands higher in frequency on the way back, in Hz.

    elapsed: from the middle of the way there to the middle of the way back, in sweeps.
    """

    shift: Estimate
    elapsed: float

    @property
    def is_apart(self) -> bool:
        """Whether the two ways surely disagree."""
        return abs(self.shift.value) > SURE_SIGMAS * self.shift.sigma


def compare(fit: PassbandFit, frequency_hz: Array, level_db: Array, elapsed: float) -> WayBack | None:
    """Compare readings of the way back, shape (n,), with the fit of the way there; None where that has no centre.

    A shift and a change of level are fitted together: noise of a reading as on the way there.
    """
    if fit.centre is None or fit.width_3db is None or len(frequency_hz) < 4:  # noqa: PLR2004 - two figures and noise
        return None
    step_hz = _SLOPE_STEP * fit.width_3db.value
    slope = (fit.level_db(frequency_hz + step_hz) - fit.level_db(frequency_hz - step_hz)) / (2.0 * step_hz)
    design = np.column_stack((-slope * fit.width_3db.value, np.ones_like(slope)))
    off = level_db - fit.level_db(frequency_hz)
    real = np.isfinite(off) & np.isfinite(slope)
    design, off = design[real], off[real]
    found, _, rank, _ = np.linalg.lstsq(design, off, rcond=None)
    if rank < design.shape[1] or len(off) < 4:  # noqa: PLR2004 - the same
        return None
    left = off - design @ found
    noise_db = max(fit.noise_db, math.sqrt(float(left @ left) / (len(off) - 2)))
    own = noise_db * math.sqrt(float(np.linalg.inv(design.T @ design)[0, 0])) * fit.width_3db.value
    return WayBack(Estimate(float(found[0]) * fit.width_3db.value, math.hypot(own, fit.centre.sigma)), elapsed)


def widen(fit: PassbandFit, back: WayBack, span_hz: float) -> PassbandFit:
    """The fit with what the disagreement leaves uncertain: place by the shift, width by what drifts while it is swept.

    Args:
        fit: of the way there.
        back: what the way back says.
        span_hz: of the sweep.
    """
    place_hz = abs(back.shift.value) / math.sqrt(3.0)  # anywhere between the two ways
    drift_hz = 0.0
    if fit.width_3db is not None and back.elapsed > 0.0:
        drift_hz = abs(back.shift.value) / back.elapsed * fit.width_3db.value / span_hz
    return replace(
        fit,
        centre=_wider(fit.centre, place_hz),
        peak=_wider(fit.peak, place_hz),
        lower_3db=_wider(fit.lower_3db, math.hypot(place_hz, 0.5 * drift_hz)),
        upper_3db=_wider(fit.upper_3db, math.hypot(place_hz, 0.5 * drift_hz)),
        width_3db=_wider(fit.width_3db, drift_hz),
        width_6db=_wider(fit.width_6db, 1.5 * drift_hz),
    )


def doubt_of(back: WayBack, fit: PassbandFit, *, creeping: bool) -> Doubt:
    """Name what stands between the two ways: `creeping` says whether the meter was seen to follow late."""
    width = (
        "" if fit.width_3db is None else f", {100.0 * abs(back.shift.value) / fit.width_3db.value:.1f} % of the width"
    )
    seen = f"On the way back the response stands {abs(back.shift.value):.3g} Hz{width}, from where it was. "
    if creeping:
        return Doubt(
            DoubtName.LAG, f"{seen}The meter lags. The uncertainties allow for it. Wait longer at each reading."
        )
    text = f"{seen}The frequency drifts, or the meter lags. The uncertainties allow for it. Let the receiver warm up."
    return Doubt(DoubtName.FREQUENCY_DRIFT, text)


def _wider(estimate: Estimate | None, sigma: float) -> Estimate | None:
    return None if estimate is None else Estimate(estimate.value, math.hypot(estimate.sigma, sigma))
