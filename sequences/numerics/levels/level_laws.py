"""Level from volts: the three ways of undoing a detector's law, each giving decibels with their uncertainty.

What to use when: `LinearLaw` for a diode detector driven well into its straight part, or an AC voltmeter;
`SquareLaw` for a diode or probe at some tens of millivolts and below; `CalibratedLaw` for anything else that moves
steadily with the signal, an AGC line above all.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol, Self

import numpy as np
import scipy

from sequences.numerics.smoothing import smooth_within_noise
from sequences.numerics.wording import say_dbm, say_volts

if TYPE_CHECKING:
    from numpy.typing import ArrayLike
    from scipy.interpolate import CubicHermiteSpline, PchipInterpolator

    from sequences.numerics.arrays import Array

LINEAR_DB_PER_NEPER = 20.0 / math.log(10.0)
SQUARE_DB_PER_NEPER = 10.0 / math.log(10.0)
LEAST_STEPS = 4
NOT_MONOTONE_SIGMAS = 4.0
LEAST_TRAVEL_SIGMAS = 10.0


@dataclass(frozen=True, slots=True)
class LevelReading:
    """A level in dB and its one-sigma uncertainty; or None and the reason, in one sentence, why there is none.

    `sigma_db` is also None where the noise of the meter was not told.
    """

    level_db: float | None
    sigma_db: float | None
    reason: str | None


class LevelLaw(Protocol):
    """How the metered voltage depends on level, undone."""

    def to_level_db(self, volts: float) -> LevelReading:
        """Turn one reading into a level."""


@dataclass(frozen=True, slots=True)
class LinearLaw:
    """The voltage is proportional to the signal's amplitude: level = 20 log10 |V|.

    `volts_sigma` is the meter's one-sigma noise in volts, where it is known.
    """

    volts_sigma: float | None = None

    def to_level_db(self, volts: float) -> LevelReading:
        """Turn one reading into dB over 1 V."""
        return _logarithmic(volts, self.volts_sigma, LINEAR_DB_PER_NEPER)


@dataclass(frozen=True, slots=True)
class SquareLaw:
    """The voltage is proportional to the signal's power: level = 10 log10 |V|.

    `volts_sigma` is the meter's one-sigma noise in volts, where it is known.
    """

    volts_sigma: float | None = None

    def to_level_db(self, volts: float) -> LevelReading:
        """Turn one reading into dB over 1 V of detector output."""
        return _logarithmic(volts, self.volts_sigma, SQUARE_DB_PER_NEPER)


def _logarithmic(volts: float, volts_sigma: float | None, db_per_neper: float) -> LevelReading:
    if not math.isfinite(volts):
        return LevelReading(None, None, "The meter's reading is not a number.")
    size = abs(volts)
    if size <= (volts_sigma or 0.0):
        return LevelReading(None, None, f"The meter reads {say_volts(volts)}, which is no more than its own noise.")
    sigma_db = None if volts_sigma is None else db_per_neper * volts_sigma / size
    return LevelReading(db_per_neper * math.log(size), sigma_db, None)


@dataclass(frozen=True, slots=True)
class CalibratedLaw:
    """A law found by stepping the source: levels are in dBm of the source at the frequency of the calibration.

    The attributes are the knots of the law after noise was smoothed out, by rising power: `power_dbm`, `volts` and
    `law_sigma_v`, the one-sigma uncertainty of the law itself there; `reading_sigma_v` is the noise of one reading.
    All have shape (m,). Build it with `from_steps`.
    """

    power_dbm: tuple[float, ...]
    volts: tuple[float, ...]
    law_sigma_v: tuple[float, ...]
    reading_sigma_v: tuple[float, ...]
    _curve: CubicHermiteSpline = field(repr=False, compare=False)
    _plainer_curve: PchipInterpolator = field(repr=False, compare=False)

    @classmethod
    def from_steps(cls, power_dbm: ArrayLike, volts: ArrayLike, volts_sigma: ArrayLike) -> Self:
        """Build the law from the source's steps and the volts read at each.

        Repeated powers are averaged, noise is smoothed out, what is left of it made monotone by isotonic regression,
        and the knots joined by a cubic spline held monotone (Hyman, SIAM J. Sci. Stat. Comput. 4, 1983).
        Its distance from the plainer monotone cubic of Fritsch and Butland (1984) tells how far the law between two
        steps is guesswork, and is carried into the uncertainty.

        Args:
            power_dbm: Shape (n,), any order, in dBm (or dB under any fixed reference).
            volts: Shape (n,), the reading at each step; rising or falling, of either sign.
            volts_sigma: One-sigma noise of a reading in volts; one value, or shape (n,).

        Raises:
            ValueError: with a sentence for the person, where the steps do not make a law.
        """
        power, level_v, sigma_v = _checked_steps(power_dbm, volts, volts_sigma)
        power, level_v, mean_sigma_v, sigma_v = _average_repeats(power, level_v, sigma_v)
        direction = 1.0 if _slope(power, level_v, mean_sigma_v) >= 0.0 else -1.0
        refuse_unsteady(power, direction * level_v, mean_sigma_v)
        smooth_v, law_sigma_v = smooth_within_noise(power, direction * level_v, mean_sigma_v)
        knots = _monotone_knots(power, smooth_v, law_sigma_v, sigma_v)
        knots[1] *= direction
        columns = [tuple(float(value) for value in column) for column in knots]
        plainer = scipy.interpolate.PchipInterpolator(knots[0], knots[1])
        return cls(columns[0], columns[1], columns[2], columns[3], _monotone_spline(knots[0], knots[1]), plainer)

    def to_level_db(self, volts: float) -> LevelReading:
        """Turn one reading into the source power, in dBm, that would have given it.

        The noise of the reading and the uncertainty of the law, both in volts, are carried through the slope.
        """
        if not math.isfinite(volts):
            return LevelReading(None, None, "The meter's reading is not a number.")
        lowest_v, highest_v = sorted((self.volts[0], self.volts[-1]))
        if not lowest_v <= volts <= highest_v:
            return LevelReading(None, None, self._beyond(volts))
        level_dbm = self._power_giving(volts)
        noise_v = self._noise_v(level_dbm)
        # The slope is taken over the noise's own reach, so that a flat spot smaller than the noise does not count.
        low_v, high_v = max(volts - noise_v, lowest_v), min(volts + noise_v, highest_v)
        reach_db = abs(self._power_giving(high_v) - self._power_giving(low_v))
        return LevelReading(level_dbm, noise_v * reach_db / (high_v - low_v), None)

    def _power_giving(self, volts: float) -> float:
        roots = self._curve.solve(volts, extrapolate=False)
        # A reading on the very end of the law can miss its root by rounding.
        return float(roots[0]) if len(roots) else float(np.interp(volts, *self._by_rising_volts()))

    def _by_rising_volts(self) -> tuple[Array, Array]:
        order = np.argsort(self.volts)
        return np.array(self.volts)[order], np.array(self.power_dbm)[order]

    def _noise_v(self, level_dbm: float) -> float:
        guesswork_v = 0.5 * abs(float(self._curve(level_dbm)) - float(self._plainer_curve(level_dbm)))
        law_v = float(np.interp(level_dbm, self.power_dbm, self.law_sigma_v))
        return math.hypot(guesswork_v, law_v, float(np.interp(level_dbm, self.power_dbm, self.reading_sigma_v)))

    def _beyond(self, volts: float) -> str:
        nearer_low = abs(volts - self.volts[0]) < abs(volts - self.volts[-1])
        end, way = (0, "weakest") if nearer_low else (-1, "strongest")
        return (
            f"The meter reads {say_volts(volts)}, beyond the {way} calibrated step of {say_volts(self.volts[end])} at "
            f"{say_dbm(self.power_dbm[end])}; calibrate over a wider range of levels or change the source level."
        )


def _checked_steps(power_dbm: ArrayLike, volts: ArrayLike, volts_sigma: ArrayLike) -> tuple[Array, Array, Array]:
    power = np.asarray(power_dbm, dtype=np.float64)
    level_v = np.asarray(volts, dtype=np.float64)
    if power.ndim != 1 or power.shape != level_v.shape:
        raise ValueError("A calibration needs one voltage for each source step.")
    sigma_v = np.broadcast_to(np.asarray(volts_sigma, dtype=np.float64), power.shape)
    if not (np.isfinite(power).all() and np.isfinite(level_v).all() and np.isfinite(sigma_v).all()):
        raise ValueError("A calibration step has a power, voltage or noise that is not a number; repeat that step.")
    if (sigma_v < 0.0).any():
        raise ValueError("The noise of a calibration reading cannot be negative.")
    if len(np.unique(power)) < LEAST_STEPS:
        raise ValueError(f"A calibration needs at least {LEAST_STEPS} different source levels.")
    # A meter steadier than a millionth of its travel is still limited by its last digit.
    return power, level_v, np.maximum(sigma_v, 1e-6 * float(np.ptp(level_v)) + 1e-15)


def _average_repeats(power: Array, level_v: Array, sigma_v: Array) -> tuple[Array, ...]:
    """Give, for each different power: the power, the weighted mean, its sigma, and the sigma of one reading there."""
    powers, index = np.unique(power, return_inverse=True)
    weight = np.bincount(index, sigma_v**-2.0)
    mean_v = np.bincount(index, level_v * sigma_v**-2.0) / weight
    one_sigma_v: Array = np.sqrt(np.bincount(index, sigma_v**2.0) / np.bincount(index))
    mean_sigma_v: Array = 1.0 / np.sqrt(weight)
    return powers, mean_v, mean_sigma_v, one_sigma_v


def _slope(power: Array, level_v: Array, sigma_v: Array) -> float:
    return float(np.polyfit(power, level_v, 1, w=1.0 / sigma_v)[0])


def refuse_unsteady(power: Array, rising_v: Array, sigma_v: Array) -> None:
    """Refuse steps that make no law.

    Args:
        power: Shape (n,), rising, in dBm.
        rising_v: Shape (n,), in volts, turned so that a stronger signal should raise it.
        sigma_v: Shape (n,), one-sigma noise in volts.

    Raises:
        ValueError: the meter hardly moves, or turns back by more than noise explains.
    """
    steady_v = scipy.optimize.isotonic_regression(rising_v, weights=sigma_v**-2.0).x
    if steady_v[-1] - steady_v[0] < LEAST_TRAVEL_SIGMAS * float(np.median(sigma_v)):
        raise ValueError(
            f"The meter does not follow the source: from {say_dbm(power[0])} to {say_dbm(power[-1])} it moved by only "
            f"{say_volts(steady_v[-1] - steady_v[0])}; check the hookup and the receiver's gain."
        )
    misfit = np.abs(rising_v - steady_v) / sigma_v
    worst = int(np.argmax(misfit))
    if misfit[worst] > NOT_MONOTONE_SIGMAS:
        raise ValueError(
            f"The meter does not move steadily one way with the source: near {say_dbm(power[worst])} it turns back by "
            f"{say_volts(abs(rising_v[worst] - steady_v[worst]))}, more than its noise explains; use less source "
            "level or let the AGC settle longer."
        )


def _monotone_knots(power: Array, rising_v: Array, law_sigma_v: Array, reading_sigma_v: Array) -> Array:
    """Pool steps that noise made equal into one knot each; shape (4, m), powers and volts strictly rising."""
    pooled = scipy.optimize.isotonic_regression(rising_v, weights=law_sigma_v**-2.0)
    index = np.repeat(np.arange(len(pooled.blocks) - 1), np.diff(pooled.blocks))
    count = np.bincount(index)
    columns = (power, np.asarray(pooled.x, dtype=np.float64), law_sigma_v, reading_sigma_v)
    knots = np.array([np.bincount(index, column) / count for column in columns])
    rising = np.concatenate(([True], np.diff(knots[1]) > 0.0))
    return knots[:, rising]


def _monotone_spline(power: Array, volts: Array) -> CubicHermiteSpline:
    """Join knots by a cubic spline whose slopes are cut back to three times the gentler neighbouring rise."""
    rise = np.diff(volts) / np.diff(power)
    direction = float(np.sign(rise[0]))
    gentler = np.minimum(
        np.concatenate((rise[:1], rise), dtype=np.float64) * direction, np.append(rise, rise[-1:]) * direction
    )
    free = scipy.interpolate.CubicSpline(power, volts).derivative()(power) * direction
    return scipy.interpolate.CubicHermiteSpline(
        power, volts, direction * np.clip(free, 0.0, 3.0 * gentler), extrapolate=False
    )
