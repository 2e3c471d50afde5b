"""The front door of the fits: readings of a response in, its figures with their uncertainties and doubts out."""

from dataclasses import dataclass, field
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike

from sequences.numerics import starts
from sequences.numerics.candidates import Candidate, fit_kinds
from sequences.numerics.curves import Array
from sequences.numerics.figures import Doubt, DoubtName, Estimate
from sequences.numerics.model_choice import Weighed, average_figures, simplest, weigh
from sequences.numerics.readings import Readings, prepare

_LEAST_READINGS = 6


class Curve(Protocol):
    """Any response that can be held fixed: a fit of another sweep, or circuits whose figures are known."""

    def level_db(self, frequency_hz: Array) -> Array:
        """Level in dB, shape (n,), at frequencies in Hz, shape (n,)."""
        ...


@dataclass(frozen=True, slots=True)
class Evidence:
    """How well one kind of curve explains the readings.

    score: Bayesian information criterion, smaller is better. share: its part of the evidence, 0 to 1.
    misfit_db: root mean square of what it leaves over.
    """

    model: str
    parameters: int
    score: float
    share: float
    misfit_db: float


@dataclass(frozen=True)
class PassbandFit:
    """What the readings say about a response. A figure that they do not support is None, and a doubt says why.

    Frequencies and widths in Hz, levels and ripple in dB; each sigma is such that 1.96 of it cover 95 %.

    model: the kind of curve, None if there is none to believe. peak: where the response is greatest. centre: midpoint
    of the outermost points 3 dB (half power) below the maximum. width_60db: only where the sweep reaches that far.
    loaded_q: of each circuit. coupling: kQ, as two circuits of equal Q would need. skew: level a quarter width above
    the centre minus the level a quarter width below it. ripple: depth of the deepest valley between humps.
    noise_db: one sigma of a reading. evidence: every kind that was tried, best first.
    """

    model: str | None = None
    peak: Estimate | None = None
    centre: Estimate | None = None
    lower_3db: Estimate | None = None
    upper_3db: Estimate | None = None
    width_3db: Estimate | None = None
    width_6db: Estimate | None = None
    width_60db: Estimate | None = None
    loaded_q: Estimate | None = None
    coupling: Estimate | None = None
    skew: Estimate | None = None
    ripple: Estimate | None = None
    peak_level: Estimate | None = None
    noise_db: float = float("nan")
    evidence: tuple[Evidence, ...] = ()
    doubts: tuple[Doubt, ...] = ()
    curves: tuple[Weighed, ...] = field(default=(), repr=False)

    def level_db(self, frequency_hz: ArrayLike) -> Array:
        """The fitted level in dB, shape (n,); NaN where there is no model."""
        return self._mean_and_variance(frequency_hz)[0]

    def level_sigma_db(self, frequency_hz: ArrayLike) -> Array:
        """One sigma of the fitted level in dB, shape (n,); NaN where there is no model."""
        return np.sqrt(self._mean_and_variance(frequency_hz)[1])

    def _mean_and_variance(self, frequency_hz: ArrayLike) -> tuple[Array, Array]:
        f = np.asarray(frequency_hz, dtype=float)
        if not self.curves:
            return np.full(f.shape, np.nan), np.full(f.shape, np.nan)
        share = np.array([each.share for each in self.curves])[:, None]
        levels, variances = [], []
        for each in self.curves:
            level, jacobian = each.candidate.curve.level_and_jacobian(each.candidate.parameters, f)
            levels.append(level)
            variances.append(np.einsum("ij,jk,ik->i", jacobian, each.candidate.covariance, jacobian))
        stacked = np.array(levels)
        mean = (share * stacked).sum(axis=0)
        variance = (share * (np.array(variances) + (stacked - mean) ** 2)).sum(axis=0)
        return mean, variance


def fit_passband(
    frequency_hz: ArrayLike,
    level_db: ArrayLike,
    sigma_db: ArrayLike | None = None,
    *,
    downstream: Curve | None = None,
    time_s: ArrayLike | None = None,
) -> PassbandFit:
    """Fit every kind of response to readings and report what they support.

    Args:
        frequency_hz: Shape (n,), in the order in which the readings were taken.
        level_db: Shape (n,).
        sigma_db: Shape (n,), one sigma of each reading, absolute or relative (the readings themselves show the scale
            of the noise); None for even noise.
        downstream: A response between this stage and the meter, held as it is and taken off first.
        time_s: Shape (n,), when each reading was taken, if not evenly in the order given.

    Raises:
        ValueError: If the arrays do not have one and the same length. Bad data are never an error but a doubt.
    """
    readings = prepare(frequency_hz, _less_downstream(frequency_hz, level_db, downstream), sigma_db, time_s)
    doubts: list[Doubt] = []
    if readings.left_out:
        doubts.append(
            Doubt(DoubtName.NOT_A_NUMBER, f"{readings.left_out} readings were not numbers and were left out.")
        )
    if len(np.unique(readings.frequency_hz)) < _LEAST_READINGS:
        text = f"Only {len(readings)} usable readings: a response needs at least {_LEAST_READINGS} frequencies."
        return PassbandFit(doubts=(*doubts, Doubt(DoubtName.TOO_FEW_READINGS, text)))
    candidates = fit_kinds(readings, starts.outline(readings))
    return _report(readings, candidates, doubts)


def _less_downstream(frequency_hz: ArrayLike, level_db: ArrayLike, downstream: Curve | None) -> ArrayLike:
    if downstream is None:
        return level_db
    return np.asarray(level_db, dtype=float) - downstream.level_db(np.asarray(frequency_hz, dtype=float))


def _report(readings: Readings, candidates: list[Candidate], doubts: list[Doubt]) -> PassbandFit:
    weighed = weigh(candidates)
    named = simplest(candidates)
    lowest, highest = float(readings.frequency_hz[0]), float(readings.frequency_hz[-1])
    figures = average_figures(weighed, lowest, highest)
    share = {each.candidate.curve.name: each.share for each in weighed}
    evidence = tuple(
        Evidence(
            candidate.curve.name,
            len(candidate.parameters),
            candidate.score,
            share.get(candidate.curve.name, 0.0),
            float(np.sqrt(np.mean((candidate.residual_db * readings.weight) ** 2))),
        )
        for candidate in sorted(candidates, key=lambda one: one.score)
    )
    for side in ("lower", "upper"):
        if f"{side}_3db" not in figures:
            text = f"The {side} 3 dB point lies outside the sweep: sweep further and fit again."
            doubts.append(Doubt(DoubtName.EDGE_OUTSIDE, text))
    return PassbandFit(
        model=named.curve.name,
        noise_db=named.noise_db,
        evidence=evidence,
        doubts=tuple(doubts),
        curves=tuple(weighed),
        **figures,
    )
