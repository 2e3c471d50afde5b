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
    return min(near, key=lambda candidate: (len(candidate.parameters), candidate.score))


def widen_for_few(freedom: int) -> float:
    """By how much a sigma must grow so that 1.96 of it still cover 95 % (Student's t)."""
    from scipy.special import stdtrit  # noqa: PLC0415 - keeps scipy out of the start of every command

    return float(stdtrit(max(freedom, 1), 0.975)) / _TWO_SIDED_95


def sweep_grid(candidate: Candidate, lowest_hz: float, highest_hz: float, count: int = 160) -> np.ndarray:
    """Frequencies fine enough to find every mark of the curve: dense about its middle, out to the ends of the sweep."""
    middle, width = float(candidate.parameters[0]), float(np.exp(candidate.parameters[1]))
    dense = middle + width * np.linspace(-1.5, 1.5, count)
    even = np.linspace(lowest_hz, highest_hz, count)
    dense = dense[(dense > lowest_hz) & (dense < highest_hz)]
    return np.unique(np.concatenate((dense, even)))


def figures_of_candidate(candidate: Candidate, lowest_hz: float, highest_hz: float) -> dict[str, Figure]:
    """Every figure of one fitted kind inside the sweep."""

    def level_and_jacobian(frequency_hz: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        return candidate.curve.level_and_jacobian(candidate.parameters, frequency_hz)

    def level(frequency_hz: np.ndarray) -> np.ndarray:
        return level_and_jacobian(frequency_hz)[0]

    landmarks = find_landmarks(level, sweep_grid(candidate, lowest_hz, highest_hz))
    width = float(np.exp(candidate.parameters[1]))
    return figures_of(level_and_jacobian, landmarks, 1e-3 * width)


def average_figures(weighed: Sequence[Weighed], lowest_hz: float, highest_hz: float) -> dict[str, Estimate]:
    """Mean and sigma of each figure that the leading kind has, over all kinds that have it."""
    found = [
        (each.share, each.candidate, figures_of_candidate(each.candidate, lowest_hz, highest_hz)) for each in weighed
    ]
    estimates: dict[str, Estimate] = {}
    for name in found[0][2]:
        having = [(share, one, figures[name]) for share, one, figures in found if name in figures]
        share = np.array([s for s, _, _ in having])
        share /= share.sum()
        value = np.array([figure.value for _, _, figure in having])
        variance = np.array(
            [figure.variance(one.covariance) * widen_for_few(one.freedom) ** 2 for _, one, figure in having]
        )
        mean = float(share @ value)
        estimates[name] = Estimate(mean, float(np.sqrt(share @ (variance + (value - mean) ** 2))))
    return estimates
