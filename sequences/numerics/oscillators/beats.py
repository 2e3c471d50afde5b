"""An oscillator's error from beat notes: by two offset beats, by a V across zero beat, or by two audible edges.

What to use when: `offset_beat` with a counter on the audio, quickest and signed, without a dead zone; `fit_v` where
the source can be stepped right across and the beats are counted or measured; `split_edges` by ear alone.
Everywhere an error is the oscillator minus its nominal, both as seen from the source: positive means it is high.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import chdtri

from sequences.numerics.arrays import Array
from sequences.numerics.figures import Doubt, DoubtName, Estimate
from sequences.numerics.wording import say_hz

SURE_SIGMAS = 3.0
CHANCE_OF_WRONG_ALARM = 1e-5


@dataclass(frozen=True, slots=True)
class OffsetBeat:
    """What two beats, with the source above and below nominal by the same offset, tell.

    `error_hz`: the oscillator minus its nominal; None where the beats contradict each other.
    `self_check_hz`: by how much half the sum of the beats exceeds the offset; it should be zero within its sigma.
    `inverted`: whether an odd number of sideband inversions between source and oscillator was allowed for.
    """

    error_hz: Estimate | None
    self_check_hz: Estimate
    inverted: bool
    doubts: tuple[Doubt, ...]


def offset_beat(
    above_hz: Estimate,
    below_hz: Estimate,
    offset_hz: float,
    *,
    inverted: bool = False,
    source_sigma_hz: float = 0.0,
) -> OffsetBeat:
    """Take the signed error from the beat above (source at nominal + offset) and below (nominal - offset).

    With the oscillator off by e, the beats are offset - e and offset + e, so that half their difference is the error
    and half their sum must give the offset again. Where the spectrum is turned over on the way the beats change
    places. If the oscillator is further off than the offset, the half-difference gives the offset and the half-sum
    the error: it is still found, with a doubt that advises a larger offset.

    Args:
        above_hz: The beat, in Hz, with the source above nominal, and the sigma of its count.
        below_hz: The same with the source below nominal.
        offset_hz: The offset of the source, above zero.
        inverted: An odd number of high-side conversions lies between source and oscillator.
        source_sigma_hz: One-sigma uncertainty of the source's own frequency, common to both beats.

    Raises:
        ValueError: where the offset is not above zero.
    """
    if not offset_hz > 0.0:
        raise ValueError("The offset beat needs the source moved away from nominal by more than nothing.")
    if inverted:
        above_hz, below_hz = below_hz, above_hz
    half_difference = 0.5 * (below_hz.value - above_hz.value)
    half_sum = 0.5 * (below_hz.value + above_hz.value)
    count_sigma = 0.5 * math.hypot(above_hz.sigma, below_hz.sigma)
    check = Estimate(half_sum - offset_hz, count_sigma)
    sigma = math.hypot(count_sigma, source_sigma_hz)
    allowance = SURE_SIGMAS * count_sigma
    if not math.isfinite(half_sum):
        doubts = (Doubt(DoubtName.NOT_A_NUMBER, "A beat was not counted; repeat the reading with more audio level."),)
        return OffsetBeat(None, check, inverted, doubts)
    if abs(check.value) <= allowance:
        return OffsetBeat(Estimate(half_difference, sigma), check, inverted, ())
    if abs(abs(half_difference) - offset_hz) <= allowance:
        far = Estimate(math.copysign(half_sum, half_difference), sigma)
        return OffsetBeat(far, check, inverted, (_offset_too_small(far, offset_hz),))
    return OffsetBeat(None, check, inverted, (_self_check_failed(above_hz, below_hz, offset_hz),))


def _offset_too_small(error_hz: Estimate, offset_hz: float) -> Doubt:
    text = (
        f"The oscillator is {say_hz(abs(error_hz.value))} off, more than the offset of {say_hz(offset_hz)}; "
        "repeat with a larger offset to be sure of the side."
    )
    return Doubt(DoubtName.OFFSET_TOO_SMALL, text)


def _self_check_failed(above_hz: Estimate, below_hz: Estimate, offset_hz: float) -> Doubt:
    text = (
        f"The beats of {say_hz(above_hz.value)} and {say_hz(below_hz.value)} should add up to twice the offset, "
        f"{say_hz(2.0 * offset_hz)}, and do not: the oscillator moved between the counts, or the counter counts hum, "
        "noise or a harmonic."
    )
    return Doubt(DoubtName.SELF_CHECK, text)


def mean_beat(counts_hz: ArrayLike, count_sigma_hz: float) -> Estimate:
    """Average repeated counts of one beat, shape (n,): their scatter and the count's own uncertainty together.

    The count's own uncertainty is not averaged down: a steady tone is miscounted alike each time.
    """
    counts = np.asarray(counts_hz, dtype=np.float64)
    scatter = float(np.std(counts, ddof=1)) / math.sqrt(len(counts)) if len(counts) > 1 else 0.0
    return Estimate(float(np.mean(counts)), math.hypot(scatter, count_sigma_hz))


@dataclass(frozen=True, slots=True)
class ZeroBeat:
    """Where the beat would be zero, in Hz of the source; None, and doubts that say why, where that cannot be told."""

    source_hz: Estimate | None
    doubts: tuple[Doubt, ...]


def fit_v(source_hz: ArrayLike, beat_hz: ArrayLike, sigma_hz: ArrayLike | None = None) -> ZeroBeat:
    """Fit |f - f0| to beats taken across zero beat.

    Each division of the readings into those below f0 and those above makes f0 a plain weighted mean; the division
    that fits best wins, so no starting value is needed.

    Args:
        source_hz: Shape (n,), source frequencies, any order, on both sides of zero beat. Leave out those whose beat
            was too low to be counted.
        beat_hz: Shape (n,), the beat at each.
        sigma_hz: One-sigma noise of a beat, one value or shape (n,); None: learnt from the scatter, which takes
            three readings.

    Raises:
        ValueError: where the arrays do not match.
    """
    source, beat = np.asarray(source_hz, dtype=np.float64), np.asarray(beat_hz, dtype=np.float64)
    if source.ndim != 1 or source.shape != beat.shape:
        raise ValueError("A V of beats needs one beat for each source frequency.")
    good = np.isfinite(source) & np.isfinite(beat)
    order = np.argsort(source[good])
    source, beat = source[good][order], beat[good][order]
    least = 3 if sigma_hz is None else 2
    if len(source) < least:
        return _no_zero(DoubtName.TOO_FEW_READINGS, f"Zero beat needs at least {least} counted beats across it.")
    sigma = np.ones(len(source)) if sigma_hz is None else np.broadcast_to(np.asarray(sigma_hz, float), good.shape)[good]
    if sigma_hz is not None:
        sigma = sigma[order]
    return _best_v(source, beat, sigma, learn=sigma_hz is None)


def _best_v(source: Array, beat: Array, sigma: Array, *, learn: bool) -> ZeroBeat:
    n = len(source)
    weight = sigma**-2.0
    # Row k: the first k readings lie below zero beat.
    below = np.arange(n)[None, :] < np.arange(n + 1)[:, None]
    zero = np.where(below, source + beat, source - beat)
    f0 = zero @ weight / weight.sum()
    misfit = (np.abs(source - f0[:, None]) - beat) / sigma
    chi2 = (misfit**2).sum(axis=1)
    best = int(np.argmin(chi2))
    scale = math.sqrt(chi2[best] / (n - 1)) if learn else 1.0
    estimate = Estimate(float(f0[best]), scale / math.sqrt(float(weight.sum())))
    if not source[0] < estimate.value < source[-1]:
        return _not_crossed(source, estimate.value)
    return _judge_v(estimate, chi2, best, sigma, beat, learn=learn)


def _judge_v(estimate: Estimate, chi2: Array, best: int, sigma: Array, beat: Array, *, learn: bool) -> ZeroBeat:
    n = len(sigma)
    noise_hz = float(np.median(sigma)) * (math.sqrt(chi2[best] / (n - 1)) if learn else 1.0)
    allowed = float(chdtri(n - 1, CHANCE_OF_WRONG_ALARM))
    poor = noise_hz > 0.25 * float(np.ptp(beat)) if learn else chi2[best] > allowed
    if poor:
        miss_hz = math.sqrt(chi2[best] / n) * float(sigma.mean())
        text = (
            f"The beats do not make a V: they miss it by about {say_hz(miss_hz)}; "
            "the oscillator drifts, or the counter counts hum, noise or a harmonic."
        )
        return ZeroBeat(None, (Doubt(DoubtName.POOR_FIT, text),))
    return ZeroBeat(estimate, ())


def _not_crossed(source: Array, f0_hz: float) -> ZeroBeat:
    above = f0_hz >= source[-1]
    end, way = ("highest", "upwards") if above else ("lowest", "downwards")
    end_hz = float(source[-1] if above else source[0])
    text = f"Zero beat was not crossed: it lies beyond the {end} source frequency, {say_hz(end_hz)}; go on {way}."
    return _no_zero(DoubtName.NO_CROSSING, text)


def _no_zero(name: DoubtName, text: str) -> ZeroBeat:
    return ZeroBeat(None, (Doubt(name, text),))


@dataclass(frozen=True, slots=True)
class SplitEdges:
    """Zero beat midway between two just-audible edges, and the silent zone between them, in Hz of the source."""

    zero_hz: Estimate | None
    silent_zone_hz: Estimate | None
    doubts: tuple[Doubt, ...]


def split_edges(lower_hz: ArrayLike, upper_hz: ArrayLike, setting_sigma_hz: float) -> SplitEdges:
    """Split the difference between the edges at which the beat is just heard below and above zero.

    The ear fails at the same pitch on either side, so the middle is zero beat (common practice, no source).

    Args:
        lower_hz: The source frequency at the lower edge; one, or shape (n,) where the edge was set several times.
        upper_hz: The same at the upper edge.
        setting_sigma_hz: How well a person sets an edge, one sigma, Hz. Repeats that scatter more count as they do.

    Raises:
        ValueError: where an edge is missing or not a number.
    """
    lower = _edge(lower_hz, setting_sigma_hz)
    upper = _edge(upper_hz, setting_sigma_hz)
    sigma = math.hypot(lower.sigma, upper.sigma)
    zone = Estimate(upper.value - lower.value, sigma)
    if zone.value <= 0.0:
        text = (
            f"The upper edge, {say_hz(upper.value)}, is not above the lower edge, {say_hz(lower.value)}; "
            "set both again, starting well to either side of the silent zone."
        )
        return SplitEdges(None, None, (Doubt(DoubtName.EDGES_REVERSED, text),))
    return SplitEdges(Estimate(0.5 * (lower.value + upper.value), 0.5 * sigma), zone, ())


def _edge(settings_hz: ArrayLike, setting_sigma_hz: float) -> Estimate:
    settings = np.atleast_1d(np.asarray(settings_hz, dtype=np.float64))
    if settings.size == 0 or not np.isfinite(settings).all():
        raise ValueError("An edge of the silent zone is missing or is not a number.")
    scatter = float(np.std(settings, ddof=1)) if settings.size > 1 else 0.0
    return Estimate(float(np.mean(settings)), max(scatter, setting_sigma_hz) / math.sqrt(settings.size))
