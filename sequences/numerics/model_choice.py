"""Which kinds of curve the readings allow, how strongly, and one set of figures over all of them.

A figure is the mean over the kinds, weighted by their evidence, and its variance holds both the variance under each
kind and how far the kinds disagree: a choice that the readings leave open is paid for in the uncertainty.
S. T. Buckland, K. P. Burnham, N. H. Augustin, Model Selection: an Integral Part of Inference, Biometrics 53 (1997)
(from memory).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from sequences.numerics.candidates import Candidate
from sequences.numerics.curves import Array
from sequences.numerics.edges import Figure, figures_of, find_landmarks
from sequences.numerics.figures import Estimate

_NAMED_WITHIN = 3.0
_NEGLIGIBLE = 0.02
_TWO_SIDED_95 = 1.959963984540054


@dataclass(frozen=True, slots=True)
class Weighed:
    """A candidate and its share of the evidence, 0 to 1."""

    candidate: Candidate
    share: float


def weigh(candidates: Sequence[Candidate]) -> list[Weighed]:
    """Shares of the evidence, the greatest first; those that count for next to nothing are left out."""
    scores = np.array([candidate.score for candidate in candidates])
    share = np.exp(-0.5 * (scores - scores.min()))
    share = np.where(share < _NEGLIGIBLE, 0.0, share)
    share /= share.sum()
    order = np.argsort(-share, kind="stable")
    return [Weighed(candidates[i], float(share[i])) for i in order if share[i] > 0.0]


def simplest(candidates: Sequence[Candidate]) -> Candidate:
    """The one to name: of those nearly as good as the best, the one with the fewest parameters."""
    best = min(candidate.score for candidate in candidates)
    near = [candidate for candidate in candidates if candidate.score <= best + _NAMED_WITHIN]
    return min(near, key=lambda candidate: (len(candidate.parameters) + len(candidate.extra), candidate.score))


def widen_for_few(freedom: int) -> float:
    """By how much a sigma must grow so that 1.96 of it still cover 95 % (Student's t)."""
    from scipy.special import stdtrit  # noqa: PLC0415 - keeps scipy out of the start of every command

    return float(stdtrit(max(freedom, 1), 0.975)) / _TWO_SIDED_95


def sweep_grid(candidate: Candidate, lowest_hz: float, highest_hz: float, count: int = 160) -> Array:
    """Frequencies fine enough to find every mark of the curve: dense about its middle, out to the ends of the sweep."""
    middle, width = candidate.curve.place(candidate.parameters)
    dense = middle + width * np.linspace(-1.5, 1.5, count)
    even = np.linspace(lowest_hz, highest_hz, count)
    dense = dense[(dense > lowest_hz) & (dense < highest_hz)]
    return np.unique(np.concatenate((dense, even)))


def figures_of_candidate(candidate: Candidate, lowest_hz: float, highest_hz: float) -> dict[str, Figure] | None:
    """Every figure of one fitted kind inside the sweep; None where its level is not real between the readings."""
    curve, parameters = candidate.curve, candidate.parameters
    grid = sweep_grid(candidate, lowest_hz, highest_hz)
    level = curve.level_db(parameters, grid)
    if not np.all(np.isfinite(level)):
        return None
    step_hz = 1e-3 * min(curve.place(parameters)[1], highest_hz - lowest_hz)
    return figures_of(
        lambda frequency_hz: curve.level_and_jacobian(parameters, frequency_hz), find_landmarks(grid, level), step_hz
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
    estimates: dict[str, Estimate] = {}
    for name in found[0][1]:
        having = [(each.share, each.candidate, figures[name]) for each, figures in found if name in figures]
        share = np.array([s for s, _, _ in having])
        share /= share.sum()
        value = np.array([figure.value for _, _, figure in having])
        variance = np.array([widened_variance(figure, one) for _, one, figure in having])
        mean = float(share @ value)
        estimates[name] = Estimate(mean, float(np.sqrt(share @ (variance + (value - mean) ** 2))))
    return estimates


def widened_variance(figure: Figure, candidate: Candidate) -> float:
    """Variance such that 1.96 of its root cover 95 %, though the noise is known from a few readings only."""
    return figure.variance(candidate.covariance) * widen_for_few(candidate.freedom) ** 2


def estimate_of(figure: Figure | None, candidate: Candidate) -> Estimate | None:
    """A figure of one candidate alone, with its sigma."""
    return None if figure is None else Estimate(figure.value, float(np.sqrt(widened_variance(figure, candidate))))
