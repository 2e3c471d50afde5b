"""A scan's result as plain values: the one form in which the page, the record and the command line see it."""

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from sequences.numerics.figures import Estimate
from sequences.numerics.responses.passband import PassbandFit

CURVE_POINTS = 401
"""Points of a curve that is looked at closely on a screen."""


def scan_figures(
    fit: PassbandFit,
    readings: int,
    doubts: Sequence[str],
    span_hz: tuple[float, float],
    curve_points: int = CURVE_POINTS,
) -> dict[str, Any]:
    """Give the fit's figures with units in their names, each with its one sigma; None where there is none."""
    figures: dict[str, Any] = {"model": fit.model}
    for name, estimate in (
        ("peak{}_hz", fit.peak),
        ("centre{}_hz", fit.centre),
        ("lower_3db{}_hz", fit.lower_3db),
        ("upper_3db{}_hz", fit.upper_3db),
        ("width_3db{}_hz", fit.width_3db),
        ("width_6db{}_hz", fit.width_6db),
        ("width_60db{}_hz", fit.width_60db),
        ("loaded_q{}", fit.loaded_q),
        ("coupling{}", fit.coupling),
        ("skew{}", fit.skew),
        ("ripple{}_db", fit.ripple),
        ("peak_level{}_db", fit.peak_level),
    ):
        figures |= _pair(name, estimate)
    return figures | {
        "noise_db": _plain(fit.noise_db),
        "readings": readings,
        "evidence": [
            {"model": each.model, "share": _plain(each.share), "misfit_db": _plain(each.misfit_db)}
            for each in fit.evidence
        ],
        "doubts": list(doubts),
        "curve": _curve(fit, span_hz, curve_points),
    }


def _pair(name: str, estimate: Estimate | None) -> dict[str, float | None]:
    value, sigma = (None, None) if estimate is None else (_plain(estimate.value), _plain(estimate.sigma))
    return {name.format(""): value, name.format("_sigma"): sigma}


def _plain(value: float) -> float | None:
    """JSON has no infinity and no not-a-number."""
    return float(value) if math.isfinite(value) else None


def _curve(fit: PassbandFit, span_hz: tuple[float, float], points: int) -> dict[str, list[float]] | None:
    """Sample the fitted curve for drawing: half the points evenly, half closely about the peak."""
    if fit.model is None:
        return None
    start_hz, stop_hz = span_hz
    frequency_hz = np.linspace(start_hz, stop_hz, points)
    if fit.centre is not None and fit.width_3db is not None:
        reach_hz = 2.0 * fit.width_3db.value
        near_hz = np.linspace(fit.centre.value - reach_hz, fit.centre.value + reach_hz, points)
        frequency_hz = np.union1d(frequency_hz[::2], near_hz[(near_hz >= start_hz) & (near_hz <= stop_hz)])
    return {
        "frequency_hz": frequency_hz.tolist(),
        "level_db": np.asarray(fit.level_db(frequency_hz)).tolist(),
        "sigma_db": np.asarray(fit.level_sigma_db(frequency_hz)).tolist(),
    }
