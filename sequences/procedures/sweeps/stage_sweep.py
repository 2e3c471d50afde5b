"""Sweep a passband at a level that suits it, and take off what was measured behind it."""

from collections.abc import Generator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from sequences.engine.events import CurveFitted, Notice
from sequences.engine.requests import Request
from sequences.engine.steps import tell
from sequences.numerics.figures import DoubtName
from sequences.numerics.responses.passband import PassbandFit
from sequences.numerics.responses.stages import HeldResponse, with_downstream_doubt
from sequences.procedures.sweeps.place import Place
from sequences.procedures.sweeps.scan import KEPT_CURVE_POINTS, Detector, ScanResult, ScanSettings, scan
from sequences.procedures.sweeps.scan_figures import scan_figures
from sequences.procedures.sweeps.scan_log import fit_levels
from sequences.procedures.sweeps.source_level import find_source_level

SPAN_WIDTHS = 4.0
WIDER = 2.0
LOOK_READINGS = 13
BEYOND_THE_SWEEP = (DoubtName.EDGE_OUTSIDE, DoubtName.PEAK_AT_END)
NO_PASSBAND_HERE = "its passband lies beyond the sweep, far from its frequency"


@dataclass(frozen=True, slots=True)
class Span:
    """From where to where to sweep, in Hz."""

    start_hz: float
    stop_hz: float

    def wider(self) -> "Span":
        """Give one wider about the same middle, above zero."""
        middle, half = (self.start_hz + self.stop_hz) / 2, (self.stop_hz - self.start_hz) / 2
        return Span(max(middle - WIDER * half, self.start_hz / WIDER), middle + WIDER * half)


def span_about(centre_hz: float, width_hz: float) -> Span:
    """Give room for the skirts a fit needs."""
    return Span(centre_hz - SPAN_WIDTHS / 2 * width_hz, centre_hz + SPAN_WIDTHS / 2 * width_hz)


def sweep(place: Place, span: Span) -> Generator[Request, Any, ScanResult]:
    """Scan through the detector's learnt law, with the leads where they are, at a level that is not flattened.

    Where an edge lies outside, the sweep is made once more and wider.

    Raises:
        SequenceError: nothing rises in the sweep, or the law cannot be learnt.
    """
    result = yield from _sweep(place, span)
    if any(doubt.name in BEYOND_THE_SWEEP for doubt in result.fit.doubts):
        yield from tell(Notice("An edge lies outside the sweep: once more, twice as wide."))
        result = yield from _sweep(place, span.wider())
    return result


def _sweep(place: Place, span: Span) -> Generator[Request, Any, ScanResult]:
    look_hz = np.linspace(span.start_hz, span.stop_hz, LOOK_READINGS).tolist()
    level = yield from find_source_level(look_hz, place.level_dbm, place.highest_dbm, place.settle_s)
    settings = ScanSettings(
        start_hz=span.start_hz,
        stop_hz=span.stop_hz,
        level_dbm=level.power_dbm,
        settle_s=place.settle_s,
        detector=Detector.CALIBRATE,
        highest_dbm=place.highest_dbm,
    )
    result = yield from scan(settings)
    return replace(result, doubts=(*level.doubts, *result.doubts))


def is_beyond_sweep(fit: PassbandFit) -> bool:
    """Tell whether a response has no centre because it reaches beyond the sweep."""
    return fit.centre is None and any(doubt.name in BEYOND_THE_SWEEP for doubt in fit.doubts)


def less(result: ScanResult, downstream: PassbandFit) -> Generator[Request, Any, PassbandFit]:
    """Fit what remains of a sweep when the response behind the stage is taken off as measured; tell the curve."""
    stage = with_downstream_doubt(
        fit_levels(result.levels, result.law, HeldResponse(downstream), power_off_db=result.power_off_db), downstream
    )
    doubts = [doubt.text for doubt in stage.doubts]
    span_hz = (result.start_hz, result.stop_hz)
    yield from tell(CurveFitted(scan_figures(stage, result.readings, doubts, span_hz, KEPT_CURVE_POINTS)))
    return stage


def own_doubts(result: ScanResult) -> tuple[str, ...]:
    """Give a sweep's doubts other than those of its fit."""
    of_fit = {doubt.text for doubt in result.fit.doubts}
    return tuple(doubt for doubt in result.doubts if doubt not in of_fit)
