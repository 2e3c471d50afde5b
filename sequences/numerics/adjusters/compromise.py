"""Compromise: one adjuster, several bands, and the setting whose worst band is best.

Each band is measured against steps of the adjuster; a smooth curve is drawn through each band's figures, and the
setting sought at which the smallest of them is largest. The answer is the table of gain and loss, not that alone.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

from sequences.numerics.arrays import Array
from sequences.numerics.figures import Doubt, DoubtName, Estimate
from sequences.numerics.smoothing import smooth_within_noise

SURE_SIGMAS = 2.0
LEAST_SETTINGS = 4
GRID = 401


@dataclass(frozen=True, slots=True)
class BandSteps:
    """One band against steps of the shared adjuster: the larger the figure, the better.

    `setting`: of each reading, in nudges or any unit common to all bands; `figure`: what was read there; `sigma`: its
    one-sigma noise; `floor`: the least figure allowed, if there is one.
    """

    name: str
    setting: Sequence[float]
    figure: Sequence[float]
    sigma: float
    floor: float | None = None


@dataclass(frozen=True, slots=True)
class BandOutcome:
    """What the compromise does for one band.

    `gain`: over the setting as found; `loss`: against the setting that would suit this band alone. `under_floor` is
    None where the figure is too close to the floor to say, or there is no floor.
    """

    name: str
    as_found: Estimate
    chosen: Estimate
    best_setting: float
    gain: Estimate
    loss: Estimate
    floor: float | None
    under_floor: bool | None


@dataclass(frozen=True, slots=True)
class Compromise:
    """The setting whose worst band is best; from `lowest` to `highest` the worst band is as good within its noise."""

    setting: float
    lowest: float
    highest: float
    worst_band: str
    worst: Estimate
    leave_as_found: bool
    bands: tuple[BandOutcome, ...]
    text: str
    doubts: tuple[Doubt, ...]


def find_compromise(bands: Sequence[BandSteps], as_found: float, *, unit: str = "") -> Compromise:
    """Find the setting whose worst band is best.

    Bands are compared by how far each stands over its floor; a band without one counts from zero.

    Args:
        bands: One or more, each with readings at four or more settings.
        as_found: The setting as found, within the settings measured.
        unit: The unit of the figures, for the sentences.

    Raises:
        ValueError: where a band has too few readings, one that is not a number, or the bands share no settings.
    """
    curves = [_BandCurve(band) for band in bands]
    if not curves:
        raise ValueError("A compromise needs at least one band.")
    low = max(curve.low for curve in curves)
    high = min(curve.high for curve in curves)
    if not low < high or not low <= as_found <= high:
        raise ValueError("The bands were not measured over the same settings, the one as found among them.")
    grid = np.linspace(low, high, GRID)
    over_floor = np.array([curve.figure(grid) - (curve.band.floor or 0.0) for curve in curves])
    worst_at = over_floor.min(axis=0)
    best = int(np.argmax(worst_at))
    setting = float(grid[best])
    worst = curves[int(np.argmin(over_floor[:, best]))]
    as_good = np.flatnonzero(worst_at >= worst_at[best] - worst.sigma_at(setting))
    lowest, highest = _stretch(as_good, best, grid)
    leave = lowest <= as_found <= highest
    chosen = as_found if leave else setting
    outcomes = tuple(_outcome(curve, as_found, chosen, grid) for curve in curves)
    doubts = _doubts(outcomes, best, grid, unit)
    text = _say(chosen, leave, worst, unit)
    return Compromise(
        chosen, lowest, highest, worst.band.name, worst.estimate(chosen), leave, outcomes, text, tuple(doubts)
    )


class _BandCurve:
    """A smooth curve through one band's figures, with its uncertainty."""

    def __init__(self, band: BandSteps) -> None:
        self.band = band
        setting, figure = np.asarray(band.setting, dtype=np.float64), np.asarray(band.figure, dtype=np.float64)
        if setting.shape != figure.shape or setting.ndim != 1:
            raise ValueError(f"Band {band.name} needs one figure for each setting.")
        if not (np.isfinite(setting).all() and np.isfinite(figure).all() and band.sigma >= 0.0):
            raise ValueError(f"Band {band.name} has a setting, a figure or a noise that is not a number.")
        settings, index = np.unique(setting, return_inverse=True)
        if len(settings) < LEAST_SETTINGS:
            raise ValueError(f"Band {band.name} needs readings at {LEAST_SETTINGS} or more settings.")
        count = np.bincount(index)
        mean = np.bincount(index, figure) / count
        noise = max(band.sigma, 1e-6 * float(np.ptp(figure)) + 1e-12) / np.sqrt(count)
        smooth, sigma = smooth_within_noise(settings, mean, noise)
        self.low, self.high = float(settings[0]), float(settings[-1])
        self._curve = scipy.interpolate.PchipInterpolator(settings, smooth)
        self._settings, self._sigma = settings, sigma

    def figure(self, setting: Array) -> Array:
        return np.asarray(self._curve(setting), dtype=np.float64)

    def sigma_at(self, setting: float) -> float:
        return float(np.interp(setting, self._settings, self._sigma))

    def estimate(self, setting: float) -> Estimate:
        return Estimate(float(self._curve(setting)), self.sigma_at(setting))


def _stretch(as_good: NDArray[np.intp], best: int, grid: Array) -> tuple[float, float]:
    """Give the ends of the unbroken stretch of settings around the best one that are as good within the noise."""
    place = int(np.searchsorted(as_good, best))
    breaks = np.flatnonzero(np.diff(as_good) > 1)
    first = int(breaks[breaks < place].max()) + 1 if (breaks < place).any() else 0
    last = int(breaks[breaks >= place].min()) if (breaks >= place).any() else len(as_good) - 1
    return float(grid[as_good[first]]), float(grid[as_good[last]])


def _outcome(curve: _BandCurve, as_found: float, chosen: float, grid: Array) -> BandOutcome:
    figures = curve.figure(grid)
    best_setting = float(grid[int(np.argmax(figures))])
    before, after, best = (curve.estimate(setting) for setting in (as_found, chosen, best_setting))
    floor = curve.band.floor
    under: bool | None = None
    if floor is not None and abs(after.value - floor) > SURE_SIGMAS * after.sigma:
        under = after.value < floor
    return BandOutcome(
        curve.band.name,
        before,
        after,
        best_setting,
        _difference(after, before, same=chosen == as_found),
        _difference(best, after, same=best_setting == chosen),
        floor,
        under,
    )


def _difference(first: Estimate, second: Estimate, *, same: bool) -> Estimate:
    return Estimate(first.value - second.value, 0.0 if same else math.hypot(first.sigma, second.sigma))


def _doubts(outcomes: Sequence[BandOutcome], best: int, grid: Array, unit: str) -> list[Doubt]:
    doubts = []
    if best in (0, len(grid) - 1):
        end = "lowest" if best == 0 else "highest"
        text = f"The worst band is best at the {end} setting tried, {grid[best]:g}: step on beyond it to find the best."
        doubts.append(Doubt(DoubtName.NOT_BRACKETED, text))
    for band in outcomes:
        if band.floor is not None and band.under_floor is not False:
            words = "is under" if band.under_floor else "is too close to call against"
            text = (
                f"Band {band.name}, at {band.chosen.value:.3g} ± {band.chosen.expanded:.2g} {unit}".rstrip()
                + f", {words} its floor of {band.floor:g} {unit}".rstrip()
                + "."
            )
            doubts.append(Doubt(DoubtName.UNDER_FLOOR, text))
    return doubts


def _say(chosen: float, leave: bool, worst: _BandCurve, unit: str) -> str:
    figure = worst.estimate(chosen)
    stands = f"the worst band, {worst.band.name}, stands at {figure.value:.3g} ± {figure.expanded:.2g} {unit}".rstrip()
    if leave:
        return f"Leave the adjuster at {chosen:g}: no other setting is better beyond the noise, and {stands}."
    return f"Set the adjuster to {chosen:.2f}: there {stands}."
