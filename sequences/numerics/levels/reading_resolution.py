"""What the last digit of a reading leaves open: a uniform part of the budget (JCGM 100:2008, 4.3.7 and F.2.2.1)."""

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from sequences.numerics.figures import Estimate
from sequences.numerics.responses.passband import PassbandFit

_MOST_DIGITS = 6
_NEAR_TOP = 0.5
"""Readings above this share of the highest lie in the passband, where the curve's figures are made."""


def resolution_db(volts: Sequence[float]) -> float:
    """Give one sigma, in dB, of what the last digit leaves open in the readings of the passband, shape (n,).

    The last digit is the finest that any of the readings shows; half of it to either side is equally likely.
    """
    shown = np.abs([value for value in volts if value])
    if not len(shown):
        return 0.0
    for digits in range(-_MOST_DIGITS, _MOST_DIGITS + 1):
        step = 10.0**-digits
        if np.allclose(np.round(shown / step) * step, shown, rtol=1e-9, atol=0.0):
            high = shown[shown >= _NEAR_TOP * shown.max()]
            return float(20 / math.log(10) * step / math.sqrt(12) * np.mean(1 / high))
    return 0.0


def widen_by_resolution(fit: PassbandFit, sigma_db: float) -> PassbandFit:
    """Give the fit with sigmas no smaller than readings known to `sigma_db` can give.

    A few rounded readings may agree by chance better than they are known.
    """
    if not fit.noise_db or fit.noise_db >= sigma_db:
        return fit
    wider = sigma_db / fit.noise_db

    def widened(figure: Estimate | None) -> Estimate | None:
        return None if figure is None else Estimate(figure.value, wider * figure.sigma)

    return replace(
        fit,
        peak=widened(fit.peak),
        centre=widened(fit.centre),
        lower_3db=widened(fit.lower_3db),
        upper_3db=widened(fit.upper_3db),
        width_3db=widened(fit.width_3db),
        width_6db=widened(fit.width_6db),
        loaded_q=widened(fit.loaded_q),
    )
