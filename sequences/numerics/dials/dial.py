"""Dial error over the scale: what sliding the pointer cures, and what it leaves for slug and trimmer.

Dial error is where the receiver really is, minus what the dial says.
"""

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sequences.numerics.arrays import Array
from sequences.numerics.figures import NORMAL_95, Doubt, DoubtName, Estimate
from sequences.numerics.wording import say_hz

SURE_SIGMAS = 2.0


class Suffices(StrEnum):
    """Whether sliding the pointer brings every mark within the tolerance."""

    NOTHING_NEEDED = "nothing needed"
    YES = "yes"
    NO = "no"
    TOO_CLOSE = "too close to say"


@dataclass(frozen=True, slots=True)
class DialJudgement:
    """What the errors at the marks come to, all in Hz.

    `worst_hz`: the largest error as found, unsigned. `shift_hz`: how much higher the pointer must read, at the middle
    of the scale, so that the worst error is smallest; `remaining_hz`: that worst error, unsigned; `left_hz`: the
    errors left at the marks, shape (n,), in the order given.
    `slope_hz`: what the error gains from the lowest to the highest mark along the straight line through the lower half
    of the scale (inductance); `bend_hz`: by how much the highest mark departs from that line (trimmer). It is None
    where there are only two marks.
    """

    worst_hz: Estimate
    shift_hz: Estimate
    remaining_hz: Estimate
    left_hz: tuple[float, ...]
    slope_hz: Estimate
    bend_hz: Estimate | None
    suffices: Suffices
    text: str
    doubts: tuple[Doubt, ...]


def judge_dial(
    mark_hz: ArrayLike,
    error_hz: ArrayLike,
    sigma_hz: ArrayLike,
    tolerance_hz: float,
    *,
    shift_weight: ArrayLike = 1.0,
) -> DialJudgement:
    """Find the pointer shift that makes the worst error smallest, and say whether it suffices.

    For a straight dial the shift is midway between the largest and the smallest error. Where the scale is cramped,
    `shift_weight` says how many Hz the reading moves at each mark for one Hz at the middle of the scale.

    Args:
        mark_hz: Shape (n,), the marks, any order, n of two or more.
        error_hz: Shape (n,), the dial error at each.
        sigma_hz: One-sigma uncertainty of an error, one value or shape (n,).
        tolerance_hz: The largest error allowed at a mark.
        shift_weight: One value or shape (n,), above zero.

    Raises:
        ValueError: where arrays do not match, hold something that is not a number, or there are not two marks.
    """
    mark, error, sigma, weight = _checked(mark_hz, error_hz, sigma_hz, shift_weight)
    shift, pair = _minimax_shift(error, weight)
    left = error - weight * shift
    # Both ends of the balance move the shift and what remains: s = (e1 + e2) / (w1 + w2), r = (e1 w2 - e2 w1) / (...).
    pair_weight = float(weight[pair].sum())
    shift_sigma = float(np.hypot(*sigma[pair])) / pair_weight
    remaining_sigma = float(np.hypot(*(sigma[pair] * weight[pair[::-1]]))) / pair_weight
    remaining = Estimate(float(np.abs(left).max()), remaining_sigma)
    worst_index = int(np.argmax(np.abs(error)))
    worst = Estimate(float(abs(error[worst_index])), float(sigma[worst_index]))
    suffices = _suffices(error, left, sigma, remaining, tolerance_hz)
    slope, bend = _slope_and_bend(mark, error, sigma)
    shift_estimate = Estimate(shift, shift_sigma)
    text = _say(suffices, worst, shift_estimate, remaining, tolerance_hz) + _cause(suffices, slope, bend)
    return DialJudgement(
        worst,
        shift_estimate,
        remaining,
        tuple(left.tolist()),
        slope,
        bend,
        suffices,
        text,
        _doubts(sigma, tolerance_hz),
    )


def _checked(
    mark_hz: ArrayLike, error_hz: ArrayLike, sigma_hz: ArrayLike, shift_weight: ArrayLike
) -> tuple[Array, Array, Array, Array]:
    mark, error = np.asarray(mark_hz, dtype=np.float64), np.asarray(error_hz, dtype=np.float64)
    if mark.ndim != 1 or mark.shape != error.shape:
        raise ValueError("A dial is judged from one error for each mark.")
    if len(np.unique(mark)) < 2:  # noqa: PLR2004 - a scale has two ends
        raise ValueError("A dial is judged from at least two different marks.")
    sigma = np.broadcast_to(np.asarray(sigma_hz, dtype=np.float64), mark.shape)
    weight = np.broadcast_to(np.asarray(shift_weight, dtype=np.float64), mark.shape)
    if not all(np.isfinite(column).all() for column in (mark, error, sigma, weight)):
        raise ValueError("A mark, its error or its uncertainty is not a number; measure that mark again.")
    if (weight <= 0.0).any() or (sigma < 0.0).any():
        raise ValueError("Uncertainties cannot be negative, and every mark must move with the pointer.")
    return mark, error, sigma, weight


def _minimax_shift(error: Array, weight: Array) -> tuple[float, NDArray[np.intp]]:
    """Find the shift with the smallest worst remaining error, and the two marks that decide it.

    What remains at a mark is a straight line of the shift, so the smallest worst case lies where the rising side of
    one mark meets the falling side of another: try them all.
    """
    first, second = np.triu_indices(len(error), 1)
    shift = (error[first] + error[second]) / (weight[first] + weight[second])
    worst = np.abs(error[None, :] - shift[:, None] * weight[None, :]).max(axis=1)
    best = int(np.argmin(worst))
    return float(shift[best]), np.array([first[best], second[best]])


def _suffices(error: Array, left: Array, sigma: Array, remaining: Estimate, tolerance_hz: float) -> Suffices:
    if (np.abs(error) + SURE_SIGMAS * sigma <= tolerance_hz).all():
        return Suffices.NOTHING_NEEDED
    if (np.abs(left) + SURE_SIGMAS * sigma <= tolerance_hz).all():
        return Suffices.YES
    if remaining.value - SURE_SIGMAS * remaining.sigma > tolerance_hz:
        return Suffices.NO
    return Suffices.TOO_CLOSE


def _slope_and_bend(mark: Array, error: Array, sigma: Array) -> tuple[Estimate, Estimate | None]:
    """Fit a straight line and, with three marks, a parabola; read both off at the ends and the middle of the scale."""
    place = (mark - mark.min()) / float(np.ptp(mark))
    weight = 1.0 / np.maximum(sigma, 1e-9)
    terms = min(len(np.unique(mark)), 3)
    # On a scale from 0 to 1 the parabola 2 x^2 - x is zero at the low end and the middle and 1 at the high end.
    design = np.column_stack((np.ones_like(place), place, 2.0 * place**2 - place))[:, :terms] * weight[:, None]
    covariance = np.linalg.inv(design.T @ design)
    fitted = covariance @ design.T @ (error * weight)
    figures = [Estimate(float(fitted[term]), math.sqrt(covariance[term, term])) for term in range(terms)]
    return figures[1], figures[2] if terms == 3 else None  # noqa: PLR2004 - a bend takes three marks


def _say(suffices: Suffices, worst: Estimate, shift: Estimate, remaining: Estimate, tolerance_hz: float) -> str:
    limit = f"the limit of {say_hz(tolerance_hz)}"
    slide = (
        f"Sliding the pointer so that it reads {say_hz(abs(shift.value))} {'higher' if shift.value > 0 else 'lower'}"
    )
    if abs(shift.value) <= shift.sigma:
        slide = "Leaving the pointer where it is, which no sliding betters,"
    leaves = f"leaves at most {say_hz.known_to(remaining)}"
    return {
        Suffices.NOTHING_NEEDED: f"Every mark is within {limit}, the worst off by {say_hz(worst.value)}: "
        "leave the pointer and the adjusters alone.",
        Suffices.YES: f"{slide} {leaves}, within {limit}: adjust nothing else.",
        Suffices.NO: f"{slide} {leaves}, over {limit}: the oscillator must be adjusted",
        Suffices.TOO_CLOSE: f"{slide} {leaves}, too close to {limit} to say whether that suffices.",
    }[suffices]


def _cause(suffices: Suffices, slope: Estimate, bend: Estimate | None) -> str:
    """End the sentence where the pointer does not suffice: which adjuster the shape of the errors points at."""
    if suffices is not Suffices.NO:
        return ""
    if bend is not None and abs(bend.value) > max(SURE_SIGMAS * bend.sigma, abs(slope.value)):
        return f", by its trimmer first, since the high end bends away by {say_hz(abs(bend.value))}."
    if abs(slope.value) > SURE_SIGMAS * slope.sigma:
        way = "rises" if slope.value > 0.0 else "falls"
        return f", by its slug or padder first, since the error {way} by {say_hz(abs(slope.value))} along the scale."
    return ", and the errors follow no simple shape: measure the marks again before turning anything."


def _doubts(sigma: Array, tolerance_hz: float) -> tuple[Doubt, ...]:
    largest = float(sigma.max())
    if SURE_SIGMAS * largest < tolerance_hz:
        return ()
    text = (
        f"An error is only known to ± {say_hz(NORMAL_95 * largest)}, too little against the limit of "
        f"{say_hz(tolerance_hz)}; measure the marks again with more readings."
    )
    return (Doubt(DoubtName.UNCERTAIN, text),)
