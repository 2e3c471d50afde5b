"""One stage of several: what remains of a sweep when the response behind the stage is taken off, and how surely."""

import math
from dataclasses import dataclass, replace

import numpy as np

from sequences.numerics.arrays import Array
from sequences.numerics.figures import Estimate
from sequences.numerics.responses.passband import PassbandFit

MAKERS_COUPLING_SHARE = 0.05
"""One sigma of the coupling a can was made with: common practice, no source."""


@dataclass(frozen=True, slots=True)
class HeldResponse:
    """A fitted response as it was measured, 0 dB at its peak, and nothing where it was not measured."""

    fit: PassbandFit

    def level_db(self, frequency_hz: Array) -> Array:
        """Give the level in dB under its peak, shape (n,); NaN beyond the sweep it comes from."""
        f = np.asarray(frequency_hz, dtype=np.float64)
        top_db = 0.0 if self.fit.peak_level is None else self.fit.peak_level.value
        inside = (f >= self.fit.span_hz[0]) & (f <= self.fit.span_hz[1])
        return np.where(inside, self.fit.level_db(f) - top_db, np.nan)


def with_downstream_doubt(stage: PassbandFit, downstream: PassbandFit) -> PassbandFit:
    """Carry the uncertainty of what was taken off into the stage's centre, edges and width.

    Near its top a response of width B falls as (f/B)^2, so that an error of the downstream centre shows in the stage's
    as (B_stage / B_downstream)^2 of it, and one of its width as the cube of that ratio, both the other way round.
    """
    if stage.width_3db is None or downstream.width_3db is None or downstream.centre is None:
        return stage
    ratio = stage.width_3db.value / downstream.width_3db.value
    centre_hz = ratio**2 * downstream.centre.sigma
    width_hz = ratio**3 * downstream.width_3db.sigma
    edge_hz = math.hypot(centre_hz, width_hz / 2.0)
    return replace(
        stage,
        centre=_wider(stage.centre, centre_hz),
        peak=_wider(stage.peak, centre_hz),
        lower_3db=_wider(stage.lower_3db, edge_hz),
        upper_3db=_wider(stage.upper_3db, edge_hz),
        width_3db=_wider(stage.width_3db, width_hz),
        loaded_q=_wider_share(stage.loaded_q, width_hz / stage.width_3db.value),
    )


def _wider(estimate: Estimate | None, sigma: float) -> Estimate | None:
    return None if estimate is None else Estimate(estimate.value, math.hypot(estimate.sigma, sigma))


def _wider_share(estimate: Estimate | None, share: float) -> Estimate | None:
    return None if estimate is None else _wider(estimate, share * estimate.value)


def loss_off_centre(fit: PassbandFit, frequency_hz: float) -> Estimate | None:
    """Give how much the fitted response has at its centre over a frequency: what centring it there would gain, in dB.

    None where the fit has no centre.
    """
    if fit.centre is None:
        return None
    off_hz = np.array([0.0, -fit.centre.sigma, fit.centre.sigma])
    levels = fit.level_db(frequency_hz + off_hz)
    middle_db = float(fit.level_db(np.array([fit.centre.value]))[0])
    sigma_db = float(np.abs(levels[1:] - levels[0]).max())
    return Estimate(max(0.0, middle_db - float(levels[0])), sigma_db)


def hump_difference(fit: PassbandFit) -> Estimate | None:
    """Give the upper hump's level less the lower one's, in dB; None where there are not two."""
    if fit.lower_3db is None or fit.upper_3db is None:
        return None
    frequency_hz = np.linspace(fit.lower_3db.value, fit.upper_3db.value, 801)
    level_db = fit.level_db(frequency_hz)
    tops = 1 + np.flatnonzero((level_db[1:-1] > level_db[:-2]) & (level_db[1:-1] >= level_db[2:]))
    if len(tops) != 2:  # noqa: PLR2004 - a pair
        return None
    lower, upper = tops
    sigma_db = fit.level_sigma_db(frequency_hz[tops])
    return Estimate(float(level_db[upper] - level_db[lower]), float(np.hypot(*sigma_db)))


def loss_by_mismatch(fit: PassbandFit, critical_width_hz: float) -> Estimate:
    """Give what a critically coupled can loses, in dB, because its two circuits stand apart.

    Two circuits of detunings x + d and x - d half-widths respond like two that stand together with a coupling whose
    square is larger by d^2, so that a sweep shows a coupling kQ above the 1 they were made with; the level in the
    middle falls by (1 + kQ^2) / 2 (from the pair's closed form: Aiken, Proc. IRE 25, 1937, from memory). Where the fit
    tells no coupling the width does: kQ^2 + 2 kQ - 1 is half the square of its ratio to the critical one's.

    Args:
        fit: the can alone.
        critical_width_hz: its 3 dB width when both circuits stand together.
    """
    apparent = fit.coupling if fit.coupling is not None else _coupling_by_width(fit, critical_width_hz)
    if apparent is None:
        return Estimate(0.0, 0.0)
    k = max(apparent.value, 1.0)
    sigma = math.hypot(apparent.sigma, MAKERS_COUPLING_SHARE)
    loss = 20.0 * math.log10((1.0 + k**2) / 2.0)
    return Estimate(loss, 20.0 / math.log(10.0) * 2.0 * k / (1.0 + k**2) * sigma)


def _coupling_by_width(fit: PassbandFit, critical_width_hz: float) -> Estimate | None:
    if fit.width_3db is None:
        return None
    ratio = fit.width_3db.value / critical_width_hz
    root = math.sqrt(2.0 + 2.0 * ratio**2)
    return Estimate(root - 1.0, 2.0 * ratio / root * fit.width_3db.sigma / critical_width_hz)
