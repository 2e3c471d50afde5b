"""What an uncertain detector law adds to a fit: an error common to all readings, which their number cannot average."""

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np

from sequences.numerics.arrays import Array
from sequences.numerics.figures import Estimate
from sequences.numerics.responses.curves import HALF_POWER_DB
from sequences.numerics.responses.edges import DEPTHS_DB
from sequences.numerics.responses.passband import PassbandFit

STEP_OF_WIDTH = 0.01
"""Slopes are taken over this share of the 3 dB width."""


def widen_by_law(fit: PassbandFit, law_sigma_db: Callable[[Array], Array]) -> PassbandFit:
    """Give the fit with the law's own uncertainty in its edges, widths, centre and Q.

    An error of the law at 3 dB down, against the law at the peak, moves both edges outwards or inwards together; by
    how much, the curve's slopes there tell.

    Args:
        fit: a fit of levels undone by the law.
        law_sigma_db: the law's one sigma in dB at levels, shape (n,).
    """
    if fit.centre is None or fit.width_3db is None or fit.peak_level is None:
        return fit
    below, above = _shifts_hz(fit, law_sigma_db, fit.width_3db.value, HALF_POWER_DB)
    width_3db = _wider(fit.width_3db, below + above)
    return replace(
        fit,
        lower_3db=None if fit.lower_3db is None else _wider(fit.lower_3db, below),
        upper_3db=None if fit.upper_3db is None else _wider(fit.upper_3db, above),
        centre=_wider(fit.centre, abs(above - below) / 2),
        width_3db=width_3db,
        width_6db=_wider_6db(fit, law_sigma_db),
        loaded_q=_wider_q(fit, width_3db),
    )


def share_of_law(fit: PassbandFit, law_sigma_db: Callable[[Array], Array]) -> tuple[float, float] | None:
    """Give what the law alone leaves the centre and the width uncertain by, one sigma, as shares of the 3 dB width.

    None where the fit, of levels undone by the law, has no centre and width.
    """
    wide = widen_by_law(fit, law_sigma_db)
    if fit.centre is None or fit.width_3db is None or wide.centre is None or wide.width_3db is None:
        return None
    of_centre = math.sqrt(max(0.0, wide.centre.sigma**2 - fit.centre.sigma**2))
    of_width = math.sqrt(max(0.0, wide.width_3db.sigma**2 - fit.width_3db.sigma**2))
    return of_centre / fit.width_3db.value, of_width / fit.width_3db.value


def _shifts_hz(
    fit: PassbandFit, law_sigma_db: Callable[[Array], Array], width_hz: float, depth_db: float
) -> tuple[float, float]:
    """Give by how much one sigma of the law moves the lower and the upper edge at a depth, in Hz."""
    assert fit.centre is not None  # noqa: S101 - looked at by the caller
    assert fit.peak_level is not None  # noqa: S101 - the same
    common_db = float(np.hypot(*law_sigma_db(fit.peak_level.value - np.array([0.0, depth_db]))))
    edges_hz = fit.centre.value + np.array([-0.5, 0.5]) * width_hz
    step_hz = STEP_OF_WIDTH * width_hz
    slope = np.abs(fit.level_db(edges_hz + step_hz) - fit.level_db(edges_hz - step_hz)) / (2 * step_hz)
    steep = np.maximum(slope, depth_db / width_hz)  # no edge is less steep on its way down than the whole curve
    return common_db / float(steep[0]), common_db / float(steep[1])


def _wider(estimate: Estimate, sigma: float) -> Estimate:
    return Estimate(estimate.value, math.hypot(estimate.sigma, sigma))


def _wider_6db(fit: PassbandFit, law_sigma_db: Callable[[Array], Array]) -> Estimate | None:
    if fit.width_6db is None:
        return None
    below, above = _shifts_hz(fit, law_sigma_db, fit.width_6db.value, DEPTHS_DB[1])
    return _wider(fit.width_6db, below + above)


def _wider_q(fit: PassbandFit, width_3db: Estimate) -> Estimate | None:
    """Carry the share by which the width's sigma grew to the Q, which goes with its inverse."""
    if fit.loaded_q is None or fit.width_3db is None:
        return fit.loaded_q
    added_share = math.sqrt(max(0.0, width_3db.sigma**2 - fit.width_3db.sigma**2)) / width_3db.value
    return _wider(fit.loaded_q, added_share * fit.loaded_q.value)
