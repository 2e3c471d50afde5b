"""Single readings that stand far off: found against the fitted curve, left out, and never silently."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sequences.numerics.responses import starts
from sequences.numerics.responses.candidates import PLAIN, Candidate, best_of
from sequences.numerics.responses.kinds import fit_kinds
from sequences.numerics.responses.readings import Readings
from sequences.numerics.responses.time_order import Effects

_SUSPECT_SIGMAS = 5.0
_LEAST_FREEDOM = 5
_MOST_OF_READINGS = 0.15
_LONGEST_RUN = 2
_ROUNDS = 8
_CHANCE = 1e-3
_SIGMA_PER_MEDIAN = 1.4826
_FINEST_DB = 0.01


@dataclass(frozen=True, slots=True)
class Pops:
    """How many readings were left out as pops, and how far the farthest stood off the curve, in dB."""

    count: int = 0
    farthest_db: float = 0.0


NO_POPS = Pops()


def leave_out_pops(
    readings: Readings, candidates: list[Candidate], effects: Effects = PLAIN
) -> tuple[Readings, list[Candidate], Pops]:
    """Leave out pops and fit again, if there are any; otherwise give back what came in.

    Readings that stand off in longer runs, or too many of them, are not pops but a curve that does not fit.
    """
    lead = best_of(candidates)
    if lead.freedom < _LEAST_FREEDOM or not _far_off(lead.residual_db * readings.weight, lead.freedom).any():
        return readings, candidates, NO_POPS
    keep = ~_spikes(readings)
    for _ in range(_ROUNDS):
        kept = readings.only(keep)
        fitted = fit_kinds(kept, starts.outline(kept), effects)
        lead = best_of(fitted)
        off = _off_the_curve(readings, lead)
        again = ~_far_off(off, len(kept) - len(lead.parameters))
        if np.array_equal(again, keep):
            break
        keep = again
    kept = readings.only(keep)
    fitted = fit_kinds(kept, starts.outline(kept), effects)
    lead = best_of(fitted)
    if not _believable(readings, keep, lead):
        return readings, candidates, NO_POPS
    off = _off_the_curve(readings, lead) / readings.weight
    return kept, fitted, Pops(int((~keep).sum()), float(np.abs(off[~keep]).max()))


def _off_the_curve(readings: Readings, lead: Candidate) -> NDArray[np.float64]:
    level, jacobian = lead.curve.level_and_jacobian(lead.parameters, readings.frequency_hz)
    level, _ = lead.effects.apply(readings, level, jacobian, lead.extra)
    return np.asarray((readings.level_db - level) * readings.weight)


def _far_off(weighted: NDArray[np.float64], freedom: int) -> NDArray[np.bool_]:
    spread = starts.median(np.abs(weighted)) * _SIGMA_PER_MEDIAN * (len(weighted) / max(freedom, 1)) ** 0.5
    return np.asarray(np.abs(weighted) > _SUSPECT_SIGMAS * max(spread, _FINEST_DB))


def _spikes(readings: Readings) -> NDArray[np.bool_]:
    """Readings that stand further off the line between their neighbours than both neighbours do off theirs."""
    off = np.abs(starts.off_neighbours(readings))
    noise = starts.noise_beside_neighbours(readings)
    around = np.maximum(np.concatenate(([0.0], off[:-1])), np.concatenate((off[1:], [0.0])))
    found = np.zeros(len(readings), dtype=bool)
    found[1:-1] = (off > _SUSPECT_SIGMAS * max(noise, _FINEST_DB)) & (off > around)
    return found


def _believable(readings: Readings, keep: NDArray[np.bool_], lead: Candidate) -> bool:
    """Whether those left out are few, alone, and each one beyond what noise can do (Student's t, Bonferroni)."""
    from scipy.special import stdtrit  # noqa: PLC0415 - keeps scipy out of the start of every command

    count = int((~keep).sum())
    if not 0 < count <= max(1, int(_MOST_OF_READINGS * len(keep))):
        return False
    edges = np.flatnonzero(np.diff(np.concatenate(([False], ~keep, [False])).astype(int)))
    if (edges[1::2] - edges[::2]).max() > _LONGEST_RUN or lead.freedom < 1:
        return False
    least = float(stdtrit(lead.freedom, 1.0 - 0.5 * _CHANCE / len(keep))) * lead.noise_db
    return bool(np.abs(_off_the_curve(readings, lead)[~keep]).min() > least)
