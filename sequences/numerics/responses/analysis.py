"""From readings to the curves that may explain them: pops left out, lag and drift allowed for, smoothed at need."""

from dataclasses import dataclass, field, replace

import numpy as np

from sequences.numerics.responses import saturation, slow_noise, starts
from sequences.numerics.responses.candidates import (
    PLAIN,
    Candidate,
    best_of,
    fit_curve,
    has_structure,
    likeness_of_neighbours,
    significance,
)
from sequences.numerics.responses.curves import (
    LIMITS_OF_PAIR,
    SINGLE_CIRCUIT,
    EqualCircuits,
    StaggeredCircuits,
)
from sequences.numerics.responses.flat_top import FlatTop
from sequences.numerics.responses.kinds import fit_kinds
from sequences.numerics.responses.linear_starts import LinearStarts
from sequences.numerics.responses.pops import NO_POPS, Pops, leave_out_pops
from sequences.numerics.responses.readings import Readings
from sequences.numerics.responses.smooth_curve import fit_smooth_curve
from sequences.numerics.responses.time_order import Effects, goes_one_way, lagged
from sequences.numerics.responses.volt_noise import VoltNoise

_LAG_SIGMAS = 4.5
_LEAST_LAG = 0.01
_DRIFT_SIGMAS = 3.3
_MOST_DRIFT_DB = 5.0
_UNLIKELY_BEFOREHAND = 4.0
_DECISIVE = 6.0
_TOP_OF_RESPONSE_DB = 20.0
_LEAST_AT_TOP = 12
_NO_WORSE = 1.3
_MOST_ALIKE = 0.95
_MOST_SLOW_DB = 0.5
"""More slow noise than this is taken for a shape that is not in the book."""


@dataclass(frozen=True)
class Analysis:
    """What was made of the readings.

    readings: those that the candidates were fitted to. candidates: in no order; best: the one with the least score.
    pops: what was left out. lag: part of the reading before that each one shows, with its sigma, if the meter lags.
    structured: whether what is left over is not noise. undecided: whether drift and a lopsided response explain the
    readings alike; then each has half the evidence. volt_noise: by which the readings count, where they show any.
    """

    readings: Readings
    candidates: list[Candidate]
    pops: Pops = NO_POPS
    lag: tuple[float, float] | None = None
    structured: bool = False
    undecided: bool = False
    volt_noise: VoltNoise | None = None
    slow_db: float = 0.0
    best: Candidate = field(init=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "best", best_of(self.candidates))


def analyse(readings: Readings) -> Analysis:
    """Fit every kind of curve, with whatever else the readings show to be at work."""
    candidates = fit_kinds(readings, starts.outline(readings))
    lagging = _with_lag(readings, candidates)
    effects = PLAIN if lagging is None else Effects(lag=True)
    readings, candidates, pops = leave_out_pops(readings, lagging or candidates, effects)
    drifting = _with_drift(readings, candidates, effects)
    best = best_of(candidates + drifting)
    uncut = None if best.curve == SINGLE_CIRCUIT else saturation.shown_by(readings, best)
    if uncut is not None:
        return Analysis(readings, [uncut], pops)
    slow = slow_noise.shown_by(readings, candidates + drifting)
    if slow is not None and slow.sigma_db > _MOST_SLOW_DB:
        slow = None
    if slow is not None and slow.lead > _DECISIVE:
        found = Analysis(readings, slow.candidates)
    elif drifting and goes_one_way(readings):
        found = _drift_or_lopsided(readings, candidates, drifting)
    else:
        found = _completed(readings, candidates + drifting)
    if slow is not None:
        both = found.candidates + slow.candidates if len(found.readings) == len(readings) else found.candidates
        found = replace(found, candidates=both if slow.lead <= _DECISIVE else found.candidates, slow_db=slow.sigma_db)
    lag = None if lagging is None else _lag_of(found.best)
    return replace(found, pops=pops, lag=lag)


def _completed(readings: Readings, candidates: list[Candidate]) -> Analysis:
    """Add the lopsided kinds; if structure is left over, explain the top of the response only, smoothly at need."""
    candidates = candidates + _lopsided(readings, candidates)
    if not has_structure(best_of(candidates), readings):
        return Analysis(readings, candidates)
    return _top_of(readings, candidates)


def _drift_or_lopsided(readings: Readings, candidates: list[Candidate], drifting: list[Candidate]) -> Analysis:
    """Weigh drift against a lopsided response after a sweep one way: if both explain it, neither has more say."""
    without, along = _completed(readings, candidates), _completed(readings, drifting)
    if without.best.score - along.best.score < -_DECISIVE:
        return without
    most_db = _NO_WORSE * without.best.noise_db
    leaning = [one for one in without.candidates if one.settled and one.curve.leans and one.noise_db <= most_db]
    rivals = leaning or without.candidates
    lead = best_of(rivals).score - along.best.score
    heard = [one.less_likely(-lead) for one in rivals]
    return Analysis(without.readings, heard + along.candidates, structured=along.structured, undecided=True)


def _lag_of(candidate: Candidate) -> tuple[float, float]:
    return float(candidate.extra[0]), float(candidate.extra_sigma[0])


def _with_lag(readings: Readings, candidates: list[Candidate]) -> list[Candidate] | None:
    """The kinds fitted with a lagging meter, where that is surely at work; None otherwise."""
    best = best_of(candidates)
    if goes_one_way(readings):
        return None
    model = best.curve.level_db(best.parameters, readings.frequency_hz)
    part, sigma = significance(best, readings, lagged(readings, model, 0.0)[2])
    if not part > _LAG_SIGMAS * sigma:
        return None
    fitted = fit_kinds(readings, starts.outline(readings), Effects(lag=True))
    part, sigma = _lag_of(best_of(fitted))
    better = best_of(fitted).score < best.score - _UNLIKELY_BEFOREHAND
    return fitted if better and part > max(_LEAST_LAG, _LAG_SIGMAS * sigma) else None


def _with_drift(readings: Readings, candidates: list[Candidate], effects: Effects) -> list[Candidate]:
    """The kinds fitted with a drifting level, where any likely one shows a sign of it."""
    best = best_of(candidates)
    plainer = [one for one in candidates if one.settled and len(one.parameters) < len(best.parameters)]
    if not any(_may_drift(one, readings, best) for one in (best, *plainer)):
        return []
    drifting = fit_kinds(readings, starts.outline(readings), Effects(lag=effects.lag, drift=True))
    believable = [one for one in drifting if abs(one.extra[-1]) < _MOST_DRIFT_DB]
    return [one.less_likely(_UNLIKELY_BEFOREHAND) for one in believable]


def _may_drift(candidate: Candidate, readings: Readings, best: Candidate) -> bool:
    """Whether a drift is plain to see, and this kind with it about as likely as the best without."""
    gained, sigma = significance(candidate, readings, readings.time - 0.5)
    squared = (gained / sigma) ** 2
    if squared < _DRIFT_SIGMAS**2:
        return False
    count = len(readings)
    fall = count * float(np.log1p(squared / max(candidate.freedom - 1, 1)))
    return candidate.score - fall + float(np.log(count)) < best.score + _DECISIVE


def _lopsided(readings: Readings, candidates: list[Candidate]) -> list[Candidate]:
    """The leading cascade or flat top with one side raised: what is hidden of that moves the centre too.

    A flat top of few poles leans as circuits do that are coupled by one kind of reactance: as so many skewed circuits.
    """
    best = best_of(candidates)
    curve = best.curve.leaning
    even = isinstance(best.curve, EqualCircuits | FlatTop | StaggeredCircuits) and not best.curve.leans
    if not even or best.curve in LIMITS_OF_PAIR or any(one.curve == curve for one in candidates):
        return []
    if isinstance(curve, StaggeredCircuits):
        start = LinearStarts(starts.outline(readings)).circuits(curve.count)
    else:
        start = np.concatenate((best.parameters[:-1], [0.0], best.parameters[-1:]))
    return [] if start is None else [fit_curve(curve, readings, start, effects=best.effects)]


def _top_of(readings: Readings, candidates: list[Candidate]) -> Analysis:
    """Explain only the top of the response, by a kind or else by a smooth curve; skirts are often another matter."""
    keep = readings.level_db > starts.outline(readings).top_db - _TOP_OF_RESPONSE_DB
    effects = best_of(candidates).effects
    if _LEAST_AT_TOP <= int(keep.sum()) < len(readings):
        readings = readings.only(keep)
        candidates = fit_kinds(readings, starts.outline(readings), effects)
        candidates += _lopsided(readings, candidates)
    best = best_of(candidates)
    if not has_structure(best, readings):
        return Analysis(readings, candidates)
    smooth = fit_smooth_curve(readings, best, starts.outline(readings))
    if smooth is None or smooth.score > best.score:
        return Analysis(readings, _less_sure(candidates, best, readings), structured=True)
    if not has_structure(smooth, readings):
        return Analysis(readings, [*candidates, smooth])
    return Analysis(readings, _less_sure([*candidates, smooth], smooth, readings), structured=True)


def _less_sure(candidates: list[Candidate], best: Candidate, readings: Readings) -> list[Candidate]:
    """Widen what the candidates claim, since readings that err alike tell less than as many independent ones."""
    alike = min(likeness_of_neighbours(best, readings), _MOST_ALIKE)
    wider = (1.0 + alike) / (1.0 - alike)
    return [replace(one, covariance=one.covariance * wider) for one in candidates]
