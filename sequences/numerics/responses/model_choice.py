"""Which kinds of curve the readings allow, how strongly, and one set of figures over all of them.

A figure is the mean over the kinds, weighted by their evidence, and its variance holds both the variance under each
kind and how far the kinds disagree: a choice that the readings leave open is paid for in the uncertainty.
S. T. Buckland, K. P. Burnham, N. H. Augustin, Model Selection: an Integral Part of Inference, Biometrics 53 (1997)
(from memory).
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from sequences.numerics.arrays import Array
from sequences.numerics.figures import Estimate
from sequences.numerics.responses.candidates import LEAST_SHARE, SHARPNESS, Candidate, price_within
from sequences.numerics.responses.edges import STEP_OF_WIDTH, Figure, figures_of, find_landmarks

if TYPE_CHECKING:
    from sequences.numerics.responses.curves import Curve

_NAMED_WITHIN = 3.0
_PRICE_OF_SKEW = -0.5
"""Below nought, so that the leaning kind has the greater share even of no skew at all: so the intervals hold the truth
in 93 % of cases or more whatever the skew is, where the even and the leaning kind's sigmas are as 0.7 to 1."""

_CERTAIN = 50.0
_NARROWEST = 1e-9
"""Of the frequency: with less there are not digits enough for slopes within the width."""

_TWO_SIDED_95 = 1.959963984540054


@dataclass(frozen=True, slots=True)
class Weighed:
    """A candidate and its share of the evidence, 0 to 1."""

    candidate: Candidate
    share: float


def weigh(candidates: Sequence[Candidate]) -> list[Weighed]:
    """Shares of the evidence, the greatest first; those that count for next to nothing are left out.

    Between families of curves the score decides (the Bayesian criterion). Within a family, where one kind is another
    with a parameter more, the share goes over to the larger kind earlier and faster: an effect of one and a half of its
    sigmas must not be lost as a bias, and one that is not there must not widen the interval.
    """
    candidates = _settled(candidates)
    families: dict[tuple[Curve, bool, bool], list[Candidate]] = {}
    for candidate in (one for one in candidates if math.isfinite(one.score)):
        families.setdefault((candidate.curve.holder, candidate.effects.drift, candidate.slow), []).append(candidate)
    best = {name: min(one.score for one in members) for name, members in families.items()}
    least = min(best.values(), default=np.inf)
    between = {name: math.exp(-0.5 * (score - least)) for name, score in best.items()}
    shares = []
    for name, members in families.items():
        cost = np.array([_cost_within(one) for one in members])
        within = _undecided_skew(members, np.exp(-0.5 * SHARPNESS * (cost - cost.min())))
        shares += [(each, one) for each, one in zip(between[name] * within / within.sum(), members, strict=True)]
    total = sum(share for share, _ in shares)
    kept = [(share / total, one) for share, one in shares if share / total >= LEAST_SHARE]
    total = sum(share for share, _ in kept)
    return [Weighed(one, float(share / total)) for share, one in sorted(kept, key=lambda each: -each[0])]


def _undecided_skew(members: Sequence[Candidate], share: Array) -> Array:
    """Give what an even kind and its leaning twin have together to the twin, unless the skew is surely nothing.

    A skew that the noise all but hides moves centre and width by as much as it leaves open, and an interval that goes
    by the even kind until the skew is plain misses the truth too often just before that; shape (m,).
    """
    share = share.copy()
    for i, even in enumerate(members):
        twin = even.curve.leaning
        for j, leaning in enumerate(members):
            if leaning.curve == twin and leaning.effects == even.effects:
                more = len(leaning.parameters) - len(even.parameters)
                gained = even.misfit - leaning.misfit - more * _PRICE_OF_SKEW
                to_twin = 1.0 / (1.0 + math.exp(-min(max(gained, -_CERTAIN), _CERTAIN)))
                share[i], share[j] = (share[i] + share[j]) * np.array([1.0 - to_twin, to_twin])
    return share


def _settled(candidates: Sequence[Candidate]) -> Sequence[Candidate]:
    return [one for one in candidates if one.settled] or candidates


def _cost_within(candidate: Candidate) -> float:
    count = len(candidate.residual_db)
    fitted = len(candidate.parameters) + len(candidate.extra)
    return candidate.misfit + candidate.handicap + price_within(count, fitted)


def simplest(candidates: Sequence[Candidate]) -> Candidate:
    """The one to name: of those nearly as good as the best, the one with the fewest parameters."""
    settled = _settled(candidates)
    best = min(candidate.score for candidate in settled)
    near = [candidate for candidate in settled if candidate.score <= best + _NAMED_WITHIN]
    return min(near, key=lambda candidate: (len(candidate.parameters) + len(candidate.extra), candidate.score))


@lru_cache
def widen_for_few(freedom: int) -> float:
    """By how much a sigma must grow so that 1.96 of it still cover 95 % (Student's t)."""
    from scipy.special import stdtrit  # noqa: PLC0415 - keeps scipy out of the start of every command

    return float(stdtrit(max(freedom, 1), 0.975)) / _TWO_SIDED_95


def sweep_grid(candidate: Candidate, lowest_hz: float, highest_hz: float, count: int = 180) -> Array:
    """Frequencies from end to end of the sweep, fine enough to find every mark of the curve: dense about its middle.

    Or about the end next to it, if it lies outside. The width may not be nothing.
    """
    place, width = candidate.curve.place(candidate.parameters)
    middle = min(max(place, lowest_hz), highest_hz)
    half = 0.5 * min(width, highest_hz - lowest_hz)
    first, last = math.asinh((lowest_hz - middle) / half), math.asinh((highest_hz - middle) / half)
    grid = middle + half * np.sinh(np.linspace(first, last, count))
    grid[0], grid[-1] = lowest_hz, highest_hz
    return grid


def figures_of_candidate(candidate: Candidate, lowest_hz: float, highest_hz: float) -> dict[str, Figure] | None:
    """Every figure of one fitted kind inside the sweep; None where it has none.

    So it is where its level is not real between the readings, its width is beyond numbers, or its width or the sweep is
    too narrow for them.
    """
    curve, parameters = candidate.curve, candidate.parameters
    width_hz = curve.place(parameters)[1]
    narrower_hz = min(width_hz, highest_hz - lowest_hz)
    if not (math.isfinite(width_hz) and narrower_hz > _NARROWEST * highest_hz):
        return None
    grid = sweep_grid(candidate, lowest_hz, highest_hz)
    level = curve.level_db(parameters, grid)
    if not np.all(np.isfinite(level)):
        return None
    return figures_of(
        lambda frequency_hz: curve.level_and_jacobian(parameters, frequency_hz),
        find_landmarks(grid, level),
        STEP_OF_WIDTH * narrower_hz,
    )


def weigh_with_figures(
    candidates: Sequence[Candidate], lowest_hz: float, highest_hz: float
) -> list[tuple[Weighed, dict[str, Figure]]]:
    """Shares of the evidence, the greatest first, of those kinds that have figures; and the figures of each."""
    left = list(candidates)
    while left:
        found = [(each, figures_of_candidate(each.candidate, lowest_hz, highest_hz)) for each in weigh(left)]
        if all(figures is not None for _, figures in found):
            return [(each, figures) for each, figures in found if figures is not None]
        unreal = [each.candidate for each, figures in found if figures is None]
        left = [one for one in left if not any(one is other for other in unreal)]
    return []


def average_figures(found: Sequence[tuple[Weighed, dict[str, Figure]]]) -> dict[str, Estimate]:
    """Mean and sigma of each figure that the leading kind has, over all kinds that have it."""
    each_kind = [(each.share, _values_and_variances(figures, each.candidate)) for each, figures in found]
    estimates: dict[str, Estimate] = {}
    for name in found[0][1]:
        having = [(share, *figures[name]) for share, figures in each_kind if name in figures]
        total = sum(share for share, _, _ in having)
        mean = sum(share * value for share, value, _ in having) / total
        variance = sum(share * (variance + (value - mean) ** 2) for share, value, variance in having) / total
        estimates[name] = Estimate(float(mean), math.sqrt(variance))
    return estimates


def _values_and_variances(figures: dict[str, Figure], candidate: Candidate) -> dict[str, tuple[float, float]]:
    if np.isfinite(candidate.covariance[0, 0]):
        gradients = np.array([figure.gradient for figure in figures.values()])
        under_kind = ((gradients @ candidate.covariance) * gradients).sum(axis=1) * widen_for_few(
            candidate.freedom
        ) ** 2
        variances = under_kind.tolist()
    else:
        variances = [math.inf] * len(figures)
    above_db = _top_by_chance(figures, candidate)
    return {
        name: (
            figure.value - figure.by_top * above_db,
            variance + figure.own_variance + (figure.by_top * candidate.top_sigma_db) ** 2,
        )
        for (name, figure), variance in zip(figures.items(), variances, strict=True)
    }


def _top_by_chance(figures: dict[str, Figure], candidate: Candidate) -> float:
    """By how much the higher of two humps is too high because it is the one that noise happened to raise, in dB.

    For humps whose difference has the sigma s and is a s, the higher of the two readings lies s (phi(a) - a Phi(-a))
    above the mean higher one (C. E. Clark, The Greatest of a Finite Set of Random Variables, Operations Research 9
    (1961), from memory); twice that, taken off the reading, leaves next to nothing of it.
    """
    gap = figures.get("hump_gap")
    if gap is None or not candidate.settled:
        return 0.0
    sigma = math.sqrt(gap.variance(candidate.covariance))
    apart = gap.value / sigma if sigma > 0.0 else math.inf
    beyond = 0.5 * math.erfc(apart / math.sqrt(2.0))
    return 2.0 * sigma * (math.exp(-0.5 * apart**2) / math.sqrt(2.0 * math.pi) - (apart * beyond if beyond else 0.0))


def estimate_of(figure: Figure | None, candidate: Candidate) -> Estimate | None:
    """A figure of one candidate alone, with its sigma."""
    if figure is None:
        return None
    return Estimate(
        float(figure.value), math.sqrt(figure.variance(candidate.covariance)) * widen_for_few(candidate.freedom)
    )
