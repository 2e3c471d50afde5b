"""Compression: whether AGC, or a stage driven too hard, flattens the top of what is being measured."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from sequences.numerics.arrays import Array
from sequences.numerics.figures import Doubt, DoubtName, Estimate
from sequences.numerics.wording import say_dbm

LEAST_SLOPE = 0.9
SURE_SIGMAS = 2.0


@dataclass(frozen=True, slots=True)
class Compression:
    """How far the apparent level follows the source.

    `top_slope` is the apparent dB per source dB over the highest step, 1 where nothing is compressed;
    `highest_linear_dbm` the highest source power up to which every step still follows, None where none does;
    `doubts` holds one of the name COMPRESSED where the top step surely does not follow, or one that it cannot be told.
    """

    top_slope: Estimate | None
    highest_linear_dbm: float | None
    doubts: tuple[Doubt, ...]


def detect_compression(
    power_dbm: ArrayLike, level_db: ArrayLike, sigma_db: ArrayLike, *, least_slope: float = LEAST_SLOPE
) -> Compression:
    """Compare apparent level with source power, step by step.

    Args:
        power_dbm: Shape (n,), the source powers, any order; two at the top of the curve a few dB apart are enough.
        level_db: Shape (n,), the levels the detector law in use makes of the readings there.
        sigma_db: One-sigma noise of a level; one value, or shape (n,).
        least_slope: The apparent dB per source dB under which the top counts as flattened.

    Raises:
        ValueError: where the arrays do not match, or there are not two different powers.
    """
    power, level, sigma = _by_rising_power(power_dbm, level_db, sigma_db)
    step = np.diff(power)
    slope = np.diff(level) / step
    slope_sigma = np.hypot(sigma[:-1], sigma[1:]) / step
    follows = slope + SURE_SIGMAS * slope_sigma >= least_slope
    steps_that_follow = int(np.argmin(follows)) if not follows.all() else len(follows)
    top = Estimate(float(slope[-1]), float(slope_sigma[-1]))
    highest = float(power[steps_that_follow]) if steps_that_follow else None
    return Compression(top, highest, _doubts(top, bool(follows[-1]), least_slope, highest))


def apparent_width_factor(slope: float) -> float:
    """Tell how many times too wide a single circuit's 3 dB width looks where the level moves `slope` dB per dB.

    The apparent 3 dB point is the true one at 3 dB / slope: sqrt(10^(0.30103 / slope) - 1).
    """
    return math.sqrt(2.0 ** (1.0 / slope) - 1.0)


def _by_rising_power(power_dbm: ArrayLike, level_db: ArrayLike, sigma_db: ArrayLike) -> tuple[Array, Array, Array]:
    power, level = np.asarray(power_dbm, dtype=np.float64), np.asarray(level_db, dtype=np.float64)
    if power.ndim != 1 or power.shape != level.shape:
        raise ValueError("Compression is judged from one level for each source power.")
    sigma = np.broadcast_to(np.asarray(sigma_db, dtype=np.float64), power.shape)
    order = np.argsort(power)
    if len(power) < 2 or (np.diff(power[order]) <= 0.0).any():  # noqa: PLR2004 - a slope takes two
        raise ValueError("Compression is judged from at least two different source powers, each measured once.")
    return power[order], level[order], sigma[order]


def _doubts(top: Estimate, follows: bool, least_slope: float, highest_dbm: float | None) -> tuple[Doubt, ...]:
    if not follows:
        wide = f"about {apparent_width_factor(max(top.value, 0.05)):.1f} times too wide"
        to = "well down" if highest_dbm is None else f"to {say_dbm(highest_dbm)} or less"
        text = (
            f"The top is flattened: the level rises by only {max(top.value, 0.0):.2f} dB for each dB of the source, so "
            f"a passband would look {wide}; bring the source {to}."
        )
        return (Doubt(DoubtName.COMPRESSED, text),)
    if top.value - SURE_SIGMAS * top.sigma < least_slope and SURE_SIGMAS * top.sigma > 1.0 - least_slope:
        text = (
            f"Whether the top is flattened cannot be told: the level rises by {top.value:.2f} ± {top.expanded:.2f} dB "
            "for each dB of the source; step the source further or average more readings."
        )
        return (Doubt(DoubtName.UNCERTAIN, text),)
    return ()
