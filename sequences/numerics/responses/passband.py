"""The front door of the fits: readings of a response in, its figures with their uncertainties and doubts out."""

import math
from dataclasses import dataclass, field, replace
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike

from sequences.numerics.arrays import Array
from sequences.numerics.figures import Doubt, DoubtName, Estimate
from sequences.numerics.responses import doubts, resonance
from sequences.numerics.responses.analysis import Analysis
from sequences.numerics.responses.candidates import Candidate, NoCurveError
from sequences.numerics.responses.curves import SKEWED_CANS, SKEWED_PAIR
from sequences.numerics.responses.edge_by_edge import Edges, read_edges
from sequences.numerics.responses.model_choice import (
    Weighed,
    average_figures,
    estimate_of,
    figures_of_candidate,
    simplest,
    weigh_with_figures,
)
from sequences.numerics.responses.readings import prepare, step_of
from sequences.numerics.responses.skirts import analyse_what_agrees
from sequences.numerics.responses.smooth_curve import SmoothCurve
from sequences.numerics.responses.volt_noise import VoltNoise

UNIFORM = 12.0**-0.5
"""One sigma of what lies evenly within a step, over the step (JCGM 100:2008, 4.3.7 and F.2.2.1)."""

UNKNOWN_SHAPE = "shape of no known kind"
_RIVAL_SHARE = 0.25
_LEAST_SHARE = 1e-9
_NO_CURVE = Doubt(
    DoubtName.POOR_FIT,
    "No curve that was tried has a real level all over the sweep: check its span, and take more readings.",
)


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
    noise_db: one sigma of a reading. evidence: every kind that was tried, best first. curves: those kinds that count,
    with their shares. span_hz: between which frequencies they were fitted; beyond, they are merely continued.
    volt_noise: how noise grows as the level falls, where the readings show that and did not tell their own.
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
    span_hz: tuple[float, float] = (float("nan"), float("nan"))
    volt_noise: VoltNoise | None = field(default=None, repr=False)

    def level_db(self, frequency_hz: ArrayLike) -> Array:
        """The fitted level in dB, shape (n,); NaN where there is no model."""
        return self._mean_and_variance(frequency_hz)[0]

    def level_sigma_db(self, frequency_hz: ArrayLike) -> Array:
        """One sigma of the fitted level in dB, shape (n,); NaN where there is no model."""
        return np.sqrt(self._mean_and_variance(frequency_hz)[1])

    @np.errstate(over="ignore", invalid="ignore")  # far beyond the readings
    def _mean_and_variance(self, frequency_hz: ArrayLike) -> tuple[Array, Array]:
        f = np.asarray(frequency_hz, dtype=float)
        if not self.curves:
            return np.full(f.shape, np.nan), np.full(f.shape, np.nan)
        share = np.array([[each.share] for each in self.curves])
        levels, variances = [], []
        for each in self.curves:
            level, jacobian = each.candidate.curve.level_and_jacobian(each.candidate.parameters, f)
            levels.append(level)
            variances.append(np.einsum("ij,jk,ik->i", jacobian, each.candidate.covariance, jacobian))
        stacked = np.array(levels)
        real = np.isfinite(stacked)  # far beyond the readings a kind may have no level; the others carry on
        share = np.where(real, share, 0.0) / np.maximum(np.where(real, share, 0.0).sum(axis=0), _LEAST_SHARE)
        mean = np.where(real.any(axis=0), (share * np.where(real, stacked, 0.0)).sum(axis=0), np.nan)
        spread = np.where(real, np.array(variances) + (stacked - mean) ** 2, 0.0)
        return mean, (share * spread).sum(axis=0)


@np.errstate(over="ignore", invalid="ignore", divide="ignore")  # hopeless data may; what comes of it is not believed
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
    early = []
    if readings.left_out:
        early.append(Doubt(DoubtName.NOT_A_NUMBER, f"{readings.left_out} readings were not numbers and were left out."))
    if len(np.unique(readings.frequency_hz)) < doubts.LEAST_READINGS:
        text = f"{len(readings)} usable readings are too few: take them at {doubts.LEAST_READINGS} frequencies or more."
        return PassbandFit(doubts=(*early, Doubt(DoubtName.TOO_FEW_READINGS, text)))
    try:
        analysis = analyse_what_agrees(readings)
    except NoCurveError:
        return PassbandFit(doubts=(*early, _NO_CURVE))
    flat = doubts.no_rise(readings, analysis.best)
    if flat is not None:
        return _refused(analysis, (flat, *early))
    rivals, undecided = doubts.second_peak(readings, analysis.best.noise_db)
    if undecided:
        return _refused(analysis, (*rivals, *early))
    return _report(analysis, [*early, *rivals])


def _refused(analysis: Analysis, why: tuple[Doubt, ...]) -> PassbandFit:
    return PassbandFit(noise_db=analysis.best.noise_db, evidence=_evidence(analysis, []), doubts=why)


def _less_downstream(frequency_hz: ArrayLike, level_db: ArrayLike, downstream: Curve | None) -> ArrayLike:
    if downstream is None:
        return level_db
    f = np.asarray(frequency_hz, dtype=float)
    left = np.asarray(level_db, dtype=float) - downstream.level_db(f)
    if isinstance(downstream, PassbandFit):
        left = np.where((f >= downstream.span_hz[0]) & (f <= downstream.span_hz[1]), left, np.nan)
    return left


def _report(analysis: Analysis, early: list[Doubt]) -> PassbandFit:
    span = float(analysis.readings.frequency_hz[0]), float(analysis.readings.frequency_hz[-1])
    step_db = step_of(analysis.readings.level_db)
    stepped = [
        replace(one, top_sigma_db=math.hypot(one.top_sigma_db, UNIFORM * step_db)) for one in analysis.candidates
    ]
    found = weigh_with_figures(stepped if step_db else analysis.candidates, *span)
    weighed = [each for each, _ in found]
    if not found:
        return PassbandFit(noise_db=analysis.best.noise_db, doubts=(*early, _NO_CURVE))
    named = _named(analysis.candidates, weighed, span)
    figures = average_figures(found)
    squared = estimate_of(resonance.coupling_squared(named), named)
    name = resonance.kind_name(named.curve, squared)
    if squared is not None:
        figures["coupling"] = resonance.coupling(squared)
    q = estimate_of(resonance.loaded_q(named), named)
    if q is not None:
        figures["loaded_q"] = q
    edges = _edges_instead(analysis, weighed, figures)
    if edges is not None:
        figures = edges.figures()
        name = UNKNOWN_SHAPE
    kept, vague = doubts.withhold_vague(figures)
    blunt = doubts.blunt_peak(kept) if edges is None else []
    of_time = doubts.of_the_readings(analysis, weighed, edges)
    if edges is None and "width_3db" in figures and not any(doubt.name is DoubtName.DRIFT for doubt in of_time):
        of_time += doubts.hidden_drift(analysis, weighed, figures["width_3db"].value)
    return PassbandFit(
        model=name,
        noise_db=named.noise_db,
        evidence=_evidence(analysis, weighed),
        doubts=(
            *early,
            *doubts.coarse_readings(step_db, named.noise_db),
            *doubts.of_the_sweep(analysis, figures),
            *of_time,
            *doubts.deep_valley(kept.get("ripple")),
            *vague,
            *blunt,
            *(doubts.same_curve(name, _rival(named, weighed)) if edges is None else ()),
        ),
        curves=tuple(weighed),
        span_hz=span,
        volt_noise=analysis.volt_noise,
        **kept,
    )


def _edges_instead(analysis: Analysis, weighed: list[Weighed], figures: dict[str, Estimate]) -> Edges | None:
    """The edges themselves, where no curve explains the readings or the one that does runs beside them there."""
    lead = weighed[0].candidate
    at_most_two = lead.curve.holder in (SKEWED_PAIR, *SKEWED_CANS)
    many_poles = lead.slow and not at_most_two
    unknown = analysis.structured or isinstance(lead.curve, SmoothCurve) or many_poles
    surely_known = (at_most_two and not lead.slow) or lead.effects.drift
    if lead.cut_db or (surely_known and not unknown):
        return None
    edges = read_edges(analysis.readings, analysis.slow_db if lead.slow and not many_poles else 0.0)
    return edges if edges is not None and (unknown or edges.contradict(figures)) else None


def _named(candidates: list[Candidate], weighed: list[Weighed], span: tuple[float, float]) -> Candidate:
    """The kind to name: the simplest that explains the readings, unless it has no figures."""
    named = simplest(candidates)
    if any(named is each.candidate for each in weighed) or figures_of_candidate(named, *span) is not None:
        return named
    return simplest([each.candidate for each in weighed])


def _rival(named: Candidate, weighed: list[Weighed]) -> str | None:
    """Another kind that explains the readings about as well, if there is one."""
    share: dict[str, float] = {}
    for each in weighed:
        curve = each.candidate.curve
        if curve.holder == named.curve.holder:
            continue
        name = curve.family
        share[name] = share.get(name, 0.0) + each.share
    share.pop(named.curve.family, None)
    name = max(share, key=lambda one: share[one], default="")
    return name if share.get(name, 0.0) > _RIVAL_SHARE else None


def _evidence(analysis: Analysis, weighed: list[Weighed]) -> tuple[Evidence, ...]:
    share = {id(each.candidate): each.share for each in weighed}
    return tuple(
        Evidence(
            resonance.described(one),
            len(one.parameters) + len(one.extra),
            one.score,
            share.get(id(one), 0.0),
            float(np.sqrt(one.cost / len(one.residual_db))),
        )
        for one in sorted(analysis.candidates, key=lambda one: one.score)
    )
