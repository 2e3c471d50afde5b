"""The dial: where two beats beside the signal are equal, or where the passband lies."""

from collections import defaultdict
from collections.abc import Callable, Iterator
from itertools import groupby

import numpy as np
from scipy.optimize import brentq

from tests.bench.recomputed.export import Figure, Reading, Run
from tests.bench.recomputed.responses import Fitted, Law, fit_levels, law_of, levels, two_pairs

FEW = 12
"""A passband that was read at fewer frequencies was not swept: its two edges were compared."""

REACH_IN_WIDTHS = 0.5


def dial_errors_khz(run: Run, tuned_khz: Callable[[float], float]) -> dict[float, float]:
    """Give the dial error at each mark, from the last two pairs of beats there.

    Args:
        run: a run over the marks of the dial.
        tuned_khz: gives the frequency that the source should be on, in kHz, for a mark in kHz.
    """
    pairs: dict[float, list[tuple[float, float]]] = defaultdict(list)
    for reading in run.readings:
        if reading.purpose == "beat":
            pairs[reading.controls["dial"]].append((reading.frequency_hz, reading.value))
    falls = tuned_khz(1.0) < tuned_khz(0.0)
    errors = {}
    for mark, beats in pairs.items():
        zero_hz = _zero_beat_hz(beats[-4:])
        off_khz = zero_hz / 1000.0 - tuned_khz(mark)
        errors[mark] = -off_khz if falls else off_khz
    return errors


def _zero_beat_hz(beats: list[tuple[float, float]]) -> float:
    above, below = max(hz for hz, _ in beats), min(hz for hz, _ in beats)
    beat = {hz: float(np.mean([each for at, each in beats if at == hz])) for hz in (above, below)}
    return (above - beat[above] + below + beat[below]) / 2.0


def best_pointer_shift(errors: dict[float, float]) -> tuple[float, float]:
    """Give the shift that makes the worst error smallest, and the worst error that it leaves."""
    largest, smallest = max(errors.values()), min(errors.values())
    return (largest + smallest) / 2.0, (largest - smallest) / 2.0


def passband_centres_hz(run: Run) -> dict[float, Figure]:
    """Give where the passband's centre was last seen at each mark.

    At the first mark it was swept, and two pairs of circuits are fitted. At the others the source hopped between its
    two edges: there the same response lies so that it gives the difference of the two levels.
    """
    law = law_of(_up_to_the_first_mark(run))
    centres: dict[float, Figure] = {}
    known: tuple[Fitted, Figure] | None = None
    for mark, visit in _visits(run):
        hz, level_db, weight_db = levels(visit, law)
        if known is None or len(set(hz)) >= FEW:
            fitted = fit_levels(hz, level_db, weight_db, two_pairs)
            centres[mark], _ = fitted.centre_and_width()
            known = known or (fitted, centres[mark])
        else:
            centres[mark] = _by_its_edges(visit, law, *known)
    return centres


def _up_to_the_first_mark(run: Run) -> list[Reading]:
    """Give the readings that made the law: the last quiet ones before it, and its own."""
    place = next(place for place, reading in enumerate(run.readings) if reading.purpose == "calibration")
    before = [reading for reading in run.readings[:place] if reading.purpose == "quiet"]
    return [*before, *(reading for reading in run.readings if reading.purpose == "calibration")]


def _visits(run: Run) -> Iterator[tuple[float, list[Reading]]]:
    """Give the passband's readings of each stay at a mark, with the mark."""
    for (purpose, mark), readings in groupby(run.readings, key=lambda one: (one.purpose, one.controls.get("dial"))):
        if purpose == "passband" and mark is not None:
            yield mark, list(readings)


def _by_its_edges(visit: list[Reading], law: Law, fitted: Fitted, centre: Figure) -> Figure:
    lower_hz, upper_hz = min(one.frequency_hz for one in visit), max(one.frequency_hz for one in visit)
    lower, upper = (
        levels([one for one in visit if one.frequency_hz == at_hz], law)[1] for at_hz in (lower_hz, upper_hz)
    )
    difference_db = float(lower.mean() - upper.mean())

    def over(shift_hz: float) -> float:
        at = fitted.level_db(np.array([lower_hz - shift_hz, upper_hz - shift_hz]))
        return float(at[0] - at[1]) - difference_db

    middle_hz = (lower_hz + upper_hz) / 2.0 - centre.value
    reach_hz = REACH_IN_WIDTHS * fitted.half_hz
    shift_hz = brentq(over, middle_hz - reach_hz, middle_hz + reach_hz)
    slope = (over(shift_hz + 1.0) - over(shift_hz - 1.0)) / 2.0
    scatter_db = float(np.hypot(lower.std(ddof=1) / np.sqrt(lower.size), upper.std(ddof=1) / np.sqrt(upper.size)))
    return Figure(centre.value + shift_hz, float(np.hypot(centre.sigma, scatter_db / abs(slope))))
