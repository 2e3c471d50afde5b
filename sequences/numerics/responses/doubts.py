"""Converged is not believable: the named reasons to withhold a figure, or to take it with care."""

from collections.abc import Sequence

import numpy as np

from sequences.numerics.arrays import Array
from sequences.numerics.figures import Doubt, DoubtName, Estimate
from sequences.numerics.responses import starts
from sequences.numerics.responses.analysis import Analysis
from sequences.numerics.responses.candidates import Candidate, score, significance
from sequences.numerics.responses.curves import HALF_POWER_DB
from sequences.numerics.responses.edge_by_edge import Edges
from sequences.numerics.responses.model_choice import Weighed, figures_of_candidate
from sequences.numerics.responses.readings import Readings
from sequences.numerics.responses.time_order import goes_one_way

LEAST_READINGS = 6

_DECISIVE = 12.0
_EQUAL_HUMPS_SIGMAS = 2.0
_EQUAL_HUMPS_DB = 1e-3
_VALLEY_DB = 6.0
_VALLEY_NOISES = 6.0
_RIVAL_DB = 10.0
_BRIEF = 2
_SIDE_RESPONSE_DB = 20.0
_LEAST_IN_BAND = 3
_VAGUE_PLACE = 0.2
_VAGUE_WIDTH = 0.3
_VAGUE_COUPLING = 0.7
_COARSE_ONE_WAY = 0.12
_LIKELY = 0.3
_WORTH_SAYING = 0.1
_TELLS_DRIFT_DB = 0.01
"""Noise of a reading over the root of their number: with less of it no drift that matters stays unseen."""

_DRIFT_BEFOREHAND_DB = 1.0
"""One sigma of what a level drifts over a sweep: common practice, no source."""

_ONE_IN_TEN_SIGMAS = 1.28
_MATTERS_OF_WIDTH = 0.02
_POOR_FIT_DB = 0.05
_COARSE_STEP_DB = 0.1
_COARSER_THAN_NOISE = 2.0


def no_rise(readings: Readings, best: Candidate) -> Doubt | None:
    """Whether a level that is the same everywhere explains the readings nearly as well."""
    square = readings.weight**2
    even = readings.level_db - float(readings.level_db @ square / square.sum())
    if score(float(even @ (square * even)), len(readings), 1) - best.score > _DECISIVE:
        return None
    return Doubt(
        DoubtName.NO_RISE,
        "No response rises above the noise: check the hookup, the level of the source and the span of the sweep.",
    )


def second_peak(readings: Readings, noise_db: float) -> tuple[tuple[Doubt, ...], bool]:
    """Look for a second peak beyond a deep valley, and say whether it leaves open which one is the passband.

    Where the peak or the valley is a reading or two alone, pops of the meter are named too, since they look like that.
    """
    level = starts.smoothed(readings)
    top = int(np.argmax(level))
    worst: tuple[float, int, float] | None = None
    for way in (1, -1):
        side = level[top::way]
        rise = side - np.minimum.accumulate(side)
        if not rise.max() > _VALLEY_DB:
            continue
        # A valley must be deeper than the noisiest reading between it and the top could fake.
        noise = noise_db / np.minimum.accumulate(readings.weight[top::way])
        rise = np.where(rise > np.maximum(_VALLEY_DB, _VALLEY_NOISES * noise), rise, 0.0)
        at = int(np.argmax(rise))
        below = float(level[top] - side[at])
        if rise[at] > 0.0 and below < _SIDE_RESPONSE_DB and (worst is None or below < worst[0]):
            worst = below, top + way * at, float(rise[at])
    if worst is None:
        return (), False
    below, place, height = worst
    text = (
        f"There is a second peak near {readings.frequency_hz[place]:.7g} Hz, {below:.1f} dB below the first, beyond a "
        "deep valley: sweep each on its own."
    )
    found = [Doubt(DoubtName.SECOND_PEAK, text)]
    if _is_brief(level, top, place, height):
        text = "That peak or valley is a reading or two alone, as pops of the meter are: read there again."
        found.append(Doubt(DoubtName.POPS, text))
    return tuple(found), below < _RIVAL_DB


def _is_brief(level: Array, top: int, place: int, height_db: float) -> bool:
    """Whether the rise at a place, or the valley before it, is a reading or two wide at half its height."""
    above = level > level[place] - 0.5 * height_db
    first, last = place, place
    while first > 0 and above[first - 1]:
        first -= 1
    while last < len(above) - 1 and above[last + 1]:
        last += 1
    low, high = min(top, place), max(top, place)
    valley = int(np.count_nonzero(~above[low:high]))
    return min(last - first + 1, valley) <= _BRIEF


def of_the_sweep(analysis: Analysis, figures: dict[str, Estimate]) -> list[Doubt]:
    """Doubts about where the readings lie: edges, peak at an end, too coarse a step."""
    found = []
    for side in ("lower", "upper"):
        if f"{side}_3db" not in figures:
            text = f"The {side} 3 dB point lies outside the sweep: sweep further that way."
            found.append(Doubt(DoubtName.EDGE_OUTSIDE, text))
    if "peak_level" in figures and "peak" not in figures and found:
        text = "The level is greatest at the end of the sweep: the peak lies beyond it."
        found.append(Doubt(DoubtName.PEAK_AT_END, text))
    if "width_3db" not in figures:
        return found
    f = analysis.readings.frequency_hz
    lower, upper, width = (figures[name].value for name in ("lower_3db", "upper_3db", "width_3db"))
    inside = int(np.count_nonzero((f >= lower) & (f <= upper)))
    if inside < _LEAST_IN_BAND:
        text = f"Only {inside} readings lie within the 3 dB width: take finer steps there."
        found.append(Doubt(DoubtName.WIDTH_UNDER_STEP, text))
    step = starts.median(np.diff(f[(f >= lower - width) & (f <= upper + width)])) / width if inside > 1 else 0.0
    if step > _COARSE_ONE_WAY and goes_one_way(analysis.readings) and analysis.lag is None:
        text = (
            f"The sweep went one way in steps of {100.0 * step:.0f} % of the width: a meter that had not settled would "
            "shift the centre unseen. Sweep back and compare, or take finer steps."
        )
        found.append(Doubt(DoubtName.LAG, text))
    return found


def of_the_readings(analysis: Analysis, weighed: list[Weighed], edges: Edges | None) -> list[Doubt]:
    """Doubts about the readings themselves: pops, lag, drift, structure that no curve explains.

    Args:
        analysis: What was made of the readings.
        weighed: Those kinds that count.
        edges: What centre and width were read off, where no kind explains the readings.
    """
    found = []
    drifting = [each for each in weighed if each.candidate.effects.drift]
    count = len(analysis.readings)
    if analysis.pops.count:
        text = (
            f"{analysis.pops.count} readings stood up to {analysis.pops.farthest_db:.1f} dB off the curve, "
            f"each alone: they were left out."
        )
        found.append(Doubt(DoubtName.POPS, text))
    if analysis.lag is not None:
        text = (
            f"The meter lags: each reading still shows {100.0 * analysis.lag[0]:.0f} % of the one before. "
            "The fit allows for it; wait longer before each reading."
        )
        found.append(Doubt(DoubtName.LAG, text))
    if edges is None and sum(each.share for each in drifting) > _LIKELY:
        gained = float(drifting[0].candidate.extra[-1])
        text = f"The level drifted by {gained:+.2f} dB over the scan: the fit allows for it."
        if analysis.undecided:
            text = (
                f"The level drifted by {gained:+.2f} dB over the scan, or the response is lopsided: a sweep one way "
                "cannot tell, and the uncertainties allow for both. Sweep back to know."
            )
        found.append(Doubt(DoubtName.DRIFT, text))
    best = analysis.best
    found += _of_the_shape(analysis, weighed, edges)
    if edges is None and analysis.structured and best.noise_db > _POOR_FIT_DB:
        text = f"No model fits the {count} readings: a misfit of {best.noise_db:.2g} dB remains that is not noise."
        found.append(Doubt(DoubtName.POOR_FIT, text))
    return found


def _of_the_shape(analysis: Analysis, weighed: list[Weighed], edges: Edges | None) -> list[Doubt]:
    """Doubts about what stands where a curve should: a top that is cut off, a shape of no kind, slow noise."""
    best = analysis.best
    if best.cut_db:
        text = (
            f"The top is cut off {best.cut_db:.1f} dB below where the skirts point: the meter or a stage before it "
            "gives no more. The uncertainties allow for it. Lower the source level and repeat."
        )
        return [Doubt(DoubtName.SATURATED, text)]
    if edges is not None:
        text = (
            f"No model has the shape of these readings. Centre and width come from the two edges alone. The ripple is "
            f"{edges.ripple.value:.1f} dB, and the upper half is {edges.skew.value:+.1f} dB against the lower."
        )
        return [Doubt(DoubtName.POOR_FIT, text)]
    if sum(each.share for each in weighed if each.candidate.slow) > _WORTH_SAYING:
        text = (
            f"Neighbouring readings err alike, by {analysis.slow_db:.2g} dB: slow noise, or a shape that no model "
            "has. The uncertainties allow for it. Repeat the sweep to tell them apart."
        )
        return [Doubt(DoubtName.SLOW_NOISE, text)]
    return []


def coarse_readings(step_db: float, noise_db: float) -> list[Doubt]:
    """Say that the readings came in steps, where these are no finer than the noise."""
    if step_db < _COARSE_STEP_DB or step_db < _COARSER_THAN_NOISE * noise_db:
        return []
    text = (
        f"The readings come in steps of {step_db:.2g} dB. The uncertainties allow for it. Give the meter more digits."
    )
    return [Doubt(DoubtName.QUANTISED, text)]


def hidden_drift(analysis: Analysis, found: Sequence[Weighed], width_hz: float) -> list[Doubt]:
    """Say that a drift which the noise hides may well have moved the centre of a sweep one way by what matters.

    How much the level drifted is judged by what the readings say of it and by what levels do beforehand. There must be
    a chance of one in ten that it moved the centre by 2 % of the width.

    Args:
        analysis: What was made of the readings.
        found: The kinds that count, the leading one first.
        width_hz: The 3 dB width.
    """
    readings, leading = analysis.readings, found[0].candidate
    quiet = leading.noise_db < _TELLS_DRIFT_DB * len(readings) ** 0.5
    if quiet or leading.effects.drift or not goes_one_way(readings):
        return []
    fitted = [one for one in analysis.candidates if len(one.residual_db) == len(readings)]
    likely = [each.candidate for each in found if any(each.candidate is one for one in fitted)]
    likely += [one for one in fitted if _drift_suits(one, analysis)]
    drift_db, moved_hz = max((_by_drift(one, readings) for one in likely), key=lambda each: each[1], default=(0.0, 0.0))
    if moved_hz < _MATTERS_OF_WIDTH * width_hz:
        return []
    text = (
        f"The level may have drifted by {drift_db:.1f} dB over this sweep one way, unseen in the noise, which "
        f"would move the centre by {100.0 * moved_hz / width_hz:.0f} % of the width. Sweep back and compare."
    )
    return [Doubt(DoubtName.DRIFT, text)]


def _drift_suits(one: Candidate, analysis: Analysis) -> bool:
    """Whether a plainer kind than the leading one would explain the readings as well, had the level drifted."""
    best = analysis.best
    if not one.settled or one.effects.drift or len(one.parameters) >= len(best.parameters):
        return False
    gained, sigma = significance(one, analysis.readings, analysis.readings.time - 0.5)
    count = len(analysis.readings)
    fall = count * float(np.log1p((gained / sigma) ** 2 / max(one.freedom - 1, 1)))
    return one.score - fall + float(np.log(count)) < best.score


def _by_drift(one: Candidate, readings: Readings) -> tuple[float, float]:
    """How far, with a chance of one in ten, the level drifted under one kind, in dB, and moved the centre, in Hz."""
    figures = figures_of_candidate(one, float(readings.frequency_hz[0]), float(readings.frequency_hz[-1]))
    if not one.settled or figures is None or "centre" not in figures:
        return 0.0, 0.0
    late = readings.time - 0.5
    gained, sigma = significance(one, readings, late)
    trusted = 1.0 / (1.0 + (sigma / _DRIFT_BEFOREHAND_DB) ** 2)
    drift_db = trusted * abs(gained) + _ONE_IN_TEN_SIGMAS * _DRIFT_BEFOREHAND_DB * (1.0 - trusted) ** 0.5
    jacobian = one.curve.jacobian(one.parameters, readings.frequency_hz)
    pull = jacobian.T @ (readings.weight**2 * late)
    return drift_db, drift_db * abs(float(figures["centre"].gradient @ one.covariance @ pull)) / one.noise_db**2


def withhold_vague(figures: dict[str, Estimate]) -> tuple[dict[str, Estimate], list[Doubt]]:
    """Drop the figures whose sigma is too large for them to mean anything, and name them in one doubt."""
    width = figures["width_3db"].value if "width_3db" in figures else None
    kept, vague = {}, []
    for name, estimate in figures.items():
        if name in ("peak", "centre", "lower_3db", "upper_3db"):
            limit = np.inf if width is None else _VAGUE_PLACE * width
        elif name in ("width_3db", "width_6db", "width_60db", "loaded_q"):
            limit = _VAGUE_WIDTH * estimate.value
        elif name == "coupling":
            limit = _VAGUE_COUPLING
        else:
            limit = np.inf
        if np.isfinite(estimate.value) and estimate.sigma <= limit and np.isfinite(estimate.sigma):
            kept[name] = estimate
        elif name not in ("peak", "hump_gap"):
            vague.append(name.replace("_3db", " at 3 dB").replace("_", " "))
    if not vague:
        return kept, []
    text = f"The readings leave too uncertain: {', '.join(vague)}."
    return kept, [Doubt(DoubtName.UNCERTAIN, text)]


def blunt_peak(figures: dict[str, Estimate]) -> list[Doubt]:
    """Drop the peak where another hump is as high within the noise; say so, or that the top is flat."""
    gap = figures.pop("hump_gap", None)
    if gap is not None and gap.value < _EQUAL_HUMPS_SIGMAS * gap.sigma + _EQUAL_HUMPS_DB:
        figures.pop("peak", None)
        return [Doubt(DoubtName.UNCERTAIN, "The humps are equally high within the noise: none of them is the peak.")]
    if "peak" not in figures and "centre" in figures:
        return [Doubt(DoubtName.UNCERTAIN, "The top is too flat to say where its peak is.")]
    return []


def deep_valley(ripple: Estimate | None) -> list[Doubt]:
    """Say that the width counts from outer edge to outer edge where the valley between the humps is below 3 dB."""
    if ripple is None or ripple.value < HALF_POWER_DB:
        return []
    text = (
        f"The valley between the humps is {ripple.value:.1f} dB deep; the width counts from outer edge to outer edge."
    )
    return [Doubt(DoubtName.SECOND_PEAK, text)]


def same_curve(named: str, rival: str | None) -> list[Doubt]:
    """Say that another kind explains the readings about as well."""
    if rival is None:
        return []
    one, other = (name if name[0].isdigit() else f"a {name}" for name in (named, rival))
    text = f"The readings cannot tell {one} from {other}; the uncertainties allow for both."
    return [Doubt(DoubtName.SAME_CURVE, text)]
