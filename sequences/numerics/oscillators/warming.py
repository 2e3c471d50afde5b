"""How far an oscillator still drifts, from all counts of its warm-up: two heat flows, each with its own time constant.

A coil or capacitor follows the heat of the valves near it in minutes, and that of chassis and cabinet in an hour
(common practice, no source). By the time that the first has died away the second is hardly seen, and a single
exponential, which would say that nothing is left, is wrong by most of it. So two exponentials are fitted (each Newton's
law of cooling), the slower one's time constant is tried over all that it may be, and every one that the counts allow
has its say.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from sequences.numerics.arrays import Array
from sequences.numerics.figures import Estimate

S_PER_MINUTE = 60.0
LEAST_COUNTS = 12
QUICKEST_MINUTES, SLOWEST_MINUTES = 1.0, 240.0
"""The stated prior: any slower time constant between these, as likely in each octave as in another."""

TRIED, ROUNDS = 13, 6
UNLIKELY = 18.0
"""Of the sum of squares in units of the noise: a time constant that is so much worse is left out."""


def still_to_come(time_s: ArrayLike, frequency_hz: ArrayLike, count_sigma_hz: float) -> Estimate | None:
    """Give how far an oscillator will drift after the last count, in Hz, unsigned.

    None where it is less than its own uncertainty, as after the counts of a few minutes or of a warm receiver.

    Args:
        time_s: Shape (n,), when each count was taken, rising.
        frequency_hz: Shape (n,).
        count_sigma_hz: One-sigma uncertainty of one count; a scatter about the curve that is larger counts instead.

    Raises:
        ValueError: where the arrays do not match.
    """
    minutes, hertz = np.asarray(time_s, dtype=np.float64) / S_PER_MINUTE, np.asarray(frequency_hz, dtype=np.float64)
    if minutes.shape != hertz.shape or minutes.ndim != 1:
        raise ValueError("A warm-up is told from one time for each count.")
    if len(minutes) < LEAST_COUNTS or not count_sigma_hz > 0.0:
        return None
    tried = _tried(minutes - minutes[-1], (hertz - hertz[-1]) / count_sigma_hz)
    least = float(tried.cost.min())
    noise = max(1.0, least / (len(minutes) - 5))
    likely = np.exp(-0.5 * (tried.cost - least) / noise)
    likely /= likely.sum()
    mean = float(likely @ tried.to_come)
    variance = float(likely @ (noise * tried.variance + (tried.to_come - mean) ** 2))
    told = Estimate(count_sigma_hz * abs(mean), count_sigma_hz * math.sqrt(variance))
    return told if told.value > told.sigma else None


@dataclass(frozen=True, slots=True)
class _Tried:
    """For each slower time constant tried, shape (m,): the sum of squares, what is to come, and its variance."""

    cost: Array
    to_come: Array
    variance: Array


def _tried(minutes: Array, count: Array) -> _Tried:
    """Try slower time constants, closer and closer together where the counts allow them."""
    low, high = math.log(QUICKEST_MINUTES), math.log(SLOWEST_MINUTES)
    for _ in range(ROUNDS):
        slower = np.linspace(low, high, TRIED)
        quicker = _best_quicker(minutes, count, slower)
        cost = _cost(minutes, count, quicker, slower)
        noise = max(1.0, float(cost.min()) / (len(minutes) - 5))
        allowed = np.flatnonzero(cost - cost.min() < UNLIKELY * noise)
        if np.ptp(allowed) > TRIED // 2:
            break
        low, high = slower[max(allowed[0] - 1, 0)], slower[min(allowed[-1] + 1, TRIED - 1)]
    outcomes = np.array([_outcome(minutes, count, *taus) for taus in zip(quicker, slower, strict=True)])
    return _Tried(cost, outcomes[:, 0], outcomes[:, 1])


def _best_quicker(minutes: Array, count: Array, slower: Array) -> Array:
    """For each slower time constant find the quicker one that fits best with it, to a thousandth; logarithms, (m,)."""
    low, high = np.full_like(slower, math.log(QUICKEST_MINUTES) - 1.0), slower - 0.02
    best = low
    for _ in range(ROUNDS):
        place = low[:, None] + (high - low)[:, None] * np.linspace(0.0, 1.0, TRIED)
        cost = _cost(minutes, count, place.ravel(), np.repeat(slower, TRIED)).reshape(place.shape)
        row, column = np.arange(len(slower)), np.argmin(cost, axis=1)
        best = place[row, column]
        low, high = place[row, np.maximum(column - 1, 0)], place[row, np.minimum(column + 1, TRIED - 1)]
    return best


def _course(minutes: Array, log_tau: Array) -> Array:
    """What an exponential of unit rate at the last count has to go back by, shape (m, n): tau (exp(-t / tau) - 1)."""
    tau = np.exp(log_tau)[:, None]
    return np.asarray(tau * np.expm1(-minutes / tau))


def _cost(minutes: Array, count: Array, quicker: Array, slower: Array) -> Array:
    """The least sum of squares with each pair of time constants, shape (m,)."""
    columns = np.stack(
        (np.ones((len(slower), len(minutes))), _course(minutes, slower), _course(minutes, quicker)), axis=2
    )
    basis, _ = np.linalg.qr(columns)
    explained = np.einsum("mnk,n->mk", basis, count)
    return np.asarray(count @ count - np.sum(explained**2, axis=1))


def _outcome(minutes: Array, count: Array, quicker: float, slower: float) -> tuple[float, float]:
    """What is to come with these time constants, and its variance, in which the quicker one is uncertain too."""
    log_tau = np.array([slower, quicker])
    tau = np.exp(log_tau)
    courses = _course(minutes, log_tau)
    rates = np.linalg.lstsq(np.column_stack((np.ones_like(minutes), *courses)), count, rcond=None)[0][1:]
    bend = rates[1] * (courses[1] + minutes * np.exp(-minutes / tau[1]))
    design = np.column_stack((np.ones_like(minutes), *courses, bend))
    gradient = np.array([0.0, tau[0], tau[1], rates[1] * tau[1]])
    left = np.linalg.lstsq(design.T, gradient, rcond=None)[0]
    return float(rates @ tau), float(left @ left)
