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
    The scatter of so few counts is known badly, so it is widened (Student's t, JCGM 100:2008, G.3); where counting's
    own noise rules, it is the larger of the two, and the interval covers more than 95 %.

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
    freedom = len(hertz) - 2
    scatter = Estimate(slope, math.sqrt(float(residual @ residual) / freedom), freedom).for_few_repeats()
    return Estimate(slope, max(scatter.sigma, count_sigma_hz) / math.sqrt(spread))


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
