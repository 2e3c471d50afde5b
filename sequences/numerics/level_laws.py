"""Level from volts: the three ways of undoing a detector's law, each giving decibels with their uncertainty.

What to use when: `LinearLaw` for a diode detector driven well into its straight part, or an AC voltmeter;
`SquareLaw` for a diode or probe at some tens of millivolts and below; `CalibratedLaw` for anything else that moves
steadily with the signal, an AGC line above all.
"""

import math
from dataclasses import dataclass
from typing import Protocol, Self

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import PchipInterpolator
from scipy.optimize import isotonic_regression

from sequences.numerics.wording import say_dbm, say_volts

LINEAR_DB_PER_NEPER = 20.0 / math.log(10.0)
SQUARE_DB_PER_NEPER = 10.0 / math.log(10.0)
LEAST_STEPS = 4
NOT_MONOTONE_SIGMAS = 4.0
LEAST_TRAVEL_SIGMAS = 10.0

Floats = NDArray[np.float64]


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
    _curve: PchipInterpolator

    @classmethod
    def from_steps(cls, power_dbm: ArrayLike, volts: ArrayLike, volts_sigma: ArrayLike) -> Self:
        """Build the law from the source's steps and the volts read at each.

        Repeated powers are averaged. Noise is smoothed out by a second-difference smoother of just the stiffness
        that predicts best (unbiased risk estimate, Craven and Wahba, Numer. Math. 31, 1979, sec. 1), what is left of
        it made monotone by isotonic regression, and the knots joined by a monotone cubic (Fritsch and Butland 1984).

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
        _refuse_unsteady(power, direction * level_v, mean_sigma_v)
        smooth_v, law_sigma_v = _smooth(power, direction * level_v, mean_sigma_v)
        knots = _monotone_knots(power, smooth_v, law_sigma_v, sigma_v)
        knots[1] *= direction
        curve = PchipInterpolator(knots[0], knots[1], extrapolate=False)
        columns = [tuple(float(value) for value in column) for column in knots]
        return cls(columns[0], columns[1], columns[2], columns[3], curve)

    def to_level_db(self, volts: float) -> LevelReading:
        """Turn one reading into the source power, in dBm, that would have given it.

        The noise of the reading and the uncertainty of the law, both in volts, are carried through the slope.
        """
        if not math.isfinite(volts):
            return LevelReading(None, None, "The meter's reading is not a number.")
        lowest_v, highest_v = sorted((self.volts[0], self.volts[-1]))
        if not lowest_v <= volts <= highest_v:
            return LevelReading(None, None, self._beyond(volts))
        level_dbm = float(self._curve.solve(volts, extrapolate=False)[0])
        volts_per_db = abs(float(self._curve.derivative()(level_dbm)))
        noise_v = math.hypot(
            float(np.interp(level_dbm, self.power_dbm, self.law_sigma_v)),
            float(np.interp(level_dbm, self.power_dbm, self.reading_sigma_v)),
        )
        sigma_db = noise_v / max(volts_per_db, self._flattest_v_per_db(level_dbm))
        return LevelReading(level_dbm, sigma_db, None)

    def _flattest_v_per_db(self, level_dbm: float) -> float:
        """Give a floor for the slope: a monotone cubic may lie flat at one point of a step that does rise."""
        step = int(np.clip(np.searchsorted(self.power_dbm, level_dbm), 1, len(self.power_dbm) - 1))
        rise_v = abs(self.volts[step] - self.volts[step - 1])
        return 0.25 * rise_v / (self.power_dbm[step] - self.power_dbm[step - 1])

    def _beyond(self, volts: float) -> str:
        nearer_low = abs(volts - self.volts[0]) < abs(volts - self.volts[-1])
        end, way = (0, "weakest") if nearer_low else (-1, "strongest")
        return (
            f"The meter reads {say_volts(volts)}, beyond the {way} calibrated step of {say_volts(self.volts[end])} at "
            f"{say_dbm(self.power_dbm[end])}; calibrate over a wider range of levels or change the source level."
        )


def _checked_steps(power_dbm: ArrayLike, volts: ArrayLike, volts_sigma: ArrayLike) -> tuple[Floats, Floats, Floats]:
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


def _average_repeats(power: Floats, level_v: Floats, sigma_v: Floats) -> tuple[Floats, ...]:
    """Give, for each different power: the power, the weighted mean, its sigma, and the sigma of one reading there."""
    powers, index = np.unique(power, return_inverse=True)
    weight = np.bincount(index, sigma_v**-2.0)
    mean_v = np.bincount(index, level_v * sigma_v**-2.0) / weight
    one_sigma_v: Floats = np.sqrt(np.bincount(index, sigma_v**2.0) / np.bincount(index))
    mean_sigma_v: Floats = 1.0 / np.sqrt(weight)
    return powers, mean_v, mean_sigma_v, one_sigma_v


def _slope(power: Floats, level_v: Floats, sigma_v: Floats) -> float:
    return float(np.polyfit(power, level_v, 1, w=1.0 / sigma_v)[0])


def _refuse_unsteady(power: Floats, rising_v: Floats, sigma_v: Floats) -> None:
    steady_v = isotonic_regression(rising_v, weights=sigma_v**-2.0).x
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


def _smooth(power: Floats, level_v: Floats, sigma_v: Floats) -> tuple[Floats, Floats]:
    """Smooth by penalised second differences; give the smoothed volts and their sigma (Bayesian: sigma^2 times hat)."""
    bend = _second_difference(power)
    weight = np.diag(sigma_v**-2.0)
    penalty = bend.T @ bend * (np.trace(weight) / np.trace(bend.T @ bend))
    best_risk, best_hat = math.inf, np.eye(len(power))
    for stiffness in np.logspace(-6.0, 4.0, 41):
        hat = np.linalg.solve(weight + stiffness * penalty, weight)
        misfit = (level_v - hat @ level_v) / sigma_v
        risk = float(misfit @ misfit + 2.0 * np.trace(hat))
        if risk < best_risk:
            best_risk, best_hat = risk, hat
    return best_hat @ level_v, sigma_v * np.sqrt(np.clip(np.diag(best_hat), 0.0, 1.0))


def _second_difference(power: Floats) -> Floats:
    """Build the matrix, shape (n - 2, n), that takes volts at uneven powers to changes of slope."""
    gap = np.diff(power)
    rows = np.arange(len(power) - 2)
    matrix = np.zeros((len(power) - 2, len(power)))
    matrix[rows, rows] = 1.0 / gap[:-1]
    matrix[rows, rows + 1] = -1.0 / gap[:-1] - 1.0 / gap[1:]
    matrix[rows, rows + 2] = 1.0 / gap[1:]
    return matrix


def _monotone_knots(power: Floats, rising_v: Floats, law_sigma_v: Floats, reading_sigma_v: Floats) -> Floats:
    """Pool steps that noise made equal into one knot each; shape (4, m), powers and volts strictly rising."""
    pooled = isotonic_regression(rising_v, weights=law_sigma_v**-2.0)
    index = np.repeat(np.arange(len(pooled.blocks) - 1), np.diff(pooled.blocks))
    count = np.bincount(index)
    columns = (power, np.asarray(pooled.x, dtype=np.float64), law_sigma_v, reading_sigma_v)
    knots = np.array([np.bincount(index, column) / count for column in columns])
    rising = np.concatenate(([True], np.diff(knots[1]) > 0.0))
    return knots[:, rising]
