"""Signal and noise together at a detector: the source level at which the two are so many dB above the noise alone.

Powers add: a source of power S makes the detector read what S + N would, N being the receiver's own noise as power at
its antenna. Behind a small signal every rectifier follows power (or size, where it is driven hard by its own noise),
and gives less than that once gain control or its own curve bends:

    volts = gain ((S + N) / N)^order (1 + (S + N) / bend)^-share

N shows as the knee between the flat floor and the rise, so that neither the gain nor the law need be known.
"""

import math
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

from sequences.numerics.figures import Doubt, DoubtName, Estimate

Floats = NDArray[np.float64]

ORDERS = (1.0, 0.5)
"""Of power: a small-signal rectifier, and one that is driven hard."""

DB_PER_NEPER_OF_POWER = 10.0 / math.log(10.0)
POOR_CHI_SQUARED = 4.0
"""For each degree of freedom; the readings' own scatter is only roughly known from a few."""

MOST_SIGMA_DB = 2.0
PARAMETERS = 4
LEAST_BEND = 8.0
"""Of the power that about doubles the noise: what bends the law bends it above the noise, not within it."""


@dataclass(frozen=True, slots=True)
class SignalAndNoise:
    """What the fit gave, both powers in dBm at the antenna; None where the readings do not support it."""

    level_dbm: Estimate | None
    noise_dbm: Estimate | None
    doubts: tuple[Doubt, ...] = ()


def level_for_ratio(powers_dbm: Floats, volts: Floats, sigma_volts: Floats, ratio_db: float) -> SignalAndNoise:
    """Fit readings at several source levels, and give the level at which signal and noise are `ratio_db` above noise.

    Args:
        powers_dbm: Shape (n,); minus infinity for the source off.
        volts: Shape (n,), the detector's voltage less what the meter shows without a receiver, of any sign.
        sigma_volts: Shape (n,), one sigma of each.
        ratio_db: (S + N)/N as a ratio of powers, above 0.

    The level is that of the noise plus 10 log(10^(ratio/10) - 1): for 10 dB the signal alone is 9 times the noise.
    """
    size, sigma = np.abs(volts), np.maximum(sigma_volts, 1e-12)
    usable = size > sigma
    quiet = ~np.isfinite(powers_dbm)
    if usable.sum() <= PARAMETERS + 1 or not (usable & quiet).any():
        text = "The meter does not tell the receiver's own noise from nothing: take a more sensitive range or point."
        return SignalAndNoise(None, None, (Doubt(DoubtName.NO_RISE, text),))
    source_mw = np.where(quiet, 0.0, 10.0 ** (np.where(quiet, 0.0, powers_dbm) / 10.0))[usable]
    log_volts, log_sigma = np.log(size[usable]), (sigma / size)[usable]
    fits = [_fit(source_mw, log_volts, log_sigma, order, bends) for order in ORDERS for bends in (False, True)]
    noise_neper, sigma_neper, chi_squared, _ = min(fits, key=lambda fit: fit[3])
    noise = Estimate(DB_PER_NEPER_OF_POWER * noise_neper, DB_PER_NEPER_OF_POWER * sigma_neper)
    if not noise.sigma < MOST_SIGMA_DB:
        text = "The readings show no clear knee between the receiver's noise and the signal."
        return SignalAndNoise(None, None, (Doubt(DoubtName.UNCERTAIN, text),))
    above_db = 10.0 * math.log10(10.0 ** (ratio_db / 10.0) - 1.0)
    level = Estimate(noise.value + above_db, noise.sigma)
    if chi_squared <= POOR_CHI_SQUARED:
        return SignalAndNoise(level, noise)
    text = "Signal and noise do not add up as powers do: look for hum, a whistle or a gain control that is not at rest."
    return SignalAndNoise(level, noise, (Doubt(DoubtName.POOR_FIT, text),))


def _fit(
    source_mw: Floats, log_volts: Floats, log_sigma: Floats, order: float, bends: bool
) -> tuple[float, float, float, float]:
    """Give log of the noise in mW, its one sigma, chi squared for each degree of freedom, and AICc.

    Where nothing bends the law, to allow for it would only blur the knee; AICc (Hurvich and Tsai, Biometrika 76, 1989)
    says whether the readings ask for it.
    """
    start_mw = _start_mw(source_mw, log_volts)

    def model(at: Floats) -> Floats:
        noise_mw = math.exp(at[0])
        total_mw = source_mw + noise_mw
        shape: Floats = at[1] + order * np.log(total_mw / noise_mw)
        return shape - order * at[3] * np.log1p(total_mw / math.exp(at[2])) if bends else shape

    def misfit(at: Floats) -> Floats:
        return (model(at) - log_volts) / log_sigma

    start = [math.log(start_mw), float(log_volts.min()), math.log(LEAST_BEND**2 * start_mw), 0.3]
    low = [-np.inf, -np.inf, math.log(LEAST_BEND * start_mw), 0.0]
    high = [np.inf, np.inf, math.log(1e6 * start_mw), 1.0]
    count = PARAMETERS if bends else PARAMETERS - 2
    found = scipy.optimize.least_squares(misfit, start[:count], bounds=(low[:count], high[:count]), x_scale="jac")
    chi_squared = 2.0 * float(found.cost)
    freedom = max(len(source_mw) - count, 1)
    jacobian: Floats = np.asarray(found.jac, dtype=np.float64)
    covariance = np.linalg.pinv(jacobian.T @ jacobian)
    sigma = math.sqrt(float(covariance[0, 0]) * max(1.0, chi_squared / freedom))
    evidence = chi_squared + 2.0 * count + 2.0 * count * (count + 1) / max(freedom - 1, 1)
    return float(found.x[0]), sigma, chi_squared / freedom, evidence


def _start_mw(source_mw: Floats, log_volts: Floats) -> float:
    """Begin where the reading is about twice that of the noise alone."""
    on = source_mw > 0.0
    floor = float(log_volts[~on].mean())
    nearest = np.argmin(np.abs(log_volts[on] - floor - math.log(2.0)))
    return float(source_mw[on][nearest])
