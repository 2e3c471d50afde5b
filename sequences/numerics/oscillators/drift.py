"""How fast an oscillator still drifts, and when it will be slow enough."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from sequences.numerics.figures import Estimate

S_PER_MINUTE = 60.0
LEAST_COUNTS = 3
SURE_SIGMAS = 2.0


def drift_rate(time_s: ArrayLike, frequency_hz: ArrayLike, count_sigma_hz: float) -> Estimate:
    """Give the slope of a straight line through counts, in Hz a minute, and its one-sigma.

    Drift that dies away was faster in the middle of the counts than at their end, so the slope errs to the safe side.

    Args:
        time_s: Shape (n,), when each count was taken, n of three or more, not all at one time.
        frequency_hz: Shape (n,).
        count_sigma_hz: One-sigma uncertainty of one count; a scatter that is larger counts instead.

    Raises:
        ValueError: where the arrays do not match, or no slope can be told from them.
    """
    minutes = np.asarray(time_s, dtype=np.float64) / S_PER_MINUTE
    hertz = np.asarray(frequency_hz, dtype=np.float64)
    if minutes.shape != hertz.shape or minutes.ndim != 1 or len(minutes) < LEAST_COUNTS or not np.ptp(minutes) > 0.0:
        raise ValueError("A drift rate needs three or more counts, each with its own time.")
    away = minutes - minutes.mean()
    spread = float(away @ away)
    slope = float(away @ hertz) / spread
    residual = hertz - hertz.mean() - slope * away
    scatter = math.sqrt(float(residual @ residual) / (len(hertz) - 2))
    return Estimate(slope, max(scatter, count_sigma_hz) / math.sqrt(spread))


@dataclass(frozen=True, slots=True)
class RateAt:
    """A drift rate in Hz a minute, and the time in seconds that it stands for."""

    time_s: float
    rate_hz: float


def seconds_until(limit_hz: float, earlier: RateAt, later: RateAt) -> float | None:
    """Give the seconds after `later` until the rate is down to a limit, if it goes on dying away as it did.

    A drift that follows the temperature of its parts dies away exponentially (Newton's law of cooling). None where
    the rate has not fallen clearly enough to tell.
    """
    before, now = abs(earlier.rate_hz), abs(later.rate_hz)
    if now <= limit_hz:
        return 0.0
    if not (later.time_s > earlier.time_s and before > now > 0.0 and limit_hz > 0.0):
        return None
    time_constant_s = (later.time_s - earlier.time_s) / math.log(before / now)
    return time_constant_s * math.log(now / limit_hz)


LEAST_FALL = 0.3
"""Of the logarithm: a rate that fell by less says nothing about how it goes on falling."""


def still_to_come(earlier: RateAt, later: RateAt, rate_sigma_hz: float) -> Estimate | None:
    """Give how far an oscillator will drift after `later`, in Hz, unsigned, if its drift goes on dying away as it did.

    An exponential with the time constant T / ln(r1 / r2) has r2 T / ln(r1 / r2) still to go. None where the rate has
    not fallen clearly enough to tell.

    Args:
        earlier: A rate in Hz a minute.
        later: A later one.
        rate_sigma_hz: One-sigma uncertainty of each.
    """
    before, now = abs(earlier.rate_hz), abs(later.rate_hz)
    if not (later.time_s > earlier.time_s and before > now > SURE_SIGMAS * rate_sigma_hz):
        return None
    fall = math.log(before / now)
    if fall < LEAST_FALL:
        return None
    minutes = (later.time_s - earlier.time_s) / S_PER_MINUTE
    by_now = minutes / fall * (1.0 + 1.0 / fall)
    by_before = now * minutes / (before * fall**2)
    return Estimate(now * minutes / fall, rate_sigma_hz * math.hypot(by_now, by_before))


def drifted_hz(rate_hz: float, to_come_hz: float | None, from_minutes: float, to_minutes: float) -> float:
    """Give how far an oscillator may have drifted between two times after its rate was told, in Hz, unsigned.

    With what is still to come known, its drift dies away with the time constant to_come / rate; else the rate is
    carried on, which is the most it can be.
    """
    if to_come_hz is None or rate_hz == 0.0:
        return abs(rate_hz) * (to_minutes - from_minutes)
    constant = to_come_hz / abs(rate_hz)
    return to_come_hz * (math.exp(-from_minutes / constant) - math.exp(-to_minutes / constant))


def is_slow_enough(rate: Estimate, limit_hz: float) -> bool:
    """Tell whether a rate in Hz a minute is surely within a limit."""
    return abs(rate.value) + SURE_SIGMAS * rate.sigma <= limit_hz
