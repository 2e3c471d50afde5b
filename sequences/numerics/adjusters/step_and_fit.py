"""Step and fit: turn by equal nudges through a peak, and be told how many to go back.

For a circuit seen through a window narrower than itself, where a sweep of the source would show the window. The
determinant of a linear network is a linear function of any one reactance in it, so at a fixed frequency the level
against one slug is exactly L - 10 log10(1 + ((x - x0) / w)^2), whatever else the network holds: a coupled can too.
That is against the reactance. A slug or a trimmer does not change it quite evenly with its turns, so that one nudge is
worth a little more than the last: a bend of the travel is fitted along, held near nought by a stated prior.
"""

import math
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import ArrayLike
from scipy.special import chdtri, fdtri, stdtrit

from sequences.numerics.arrays import Array
from sequences.numerics.figures import Doubt, DoubtName, Estimate
from sequences.numerics.least_squares import Solution, inverse_information, least_squares
from sequences.numerics.wording import say_db

DB_PER_E = 10.0 / math.log(10.0)
CLEAR_FALL_SIGMAS = 3.0
LEAST_FALL_DB = 0.02
LEAST_NOISE_DB = 1e-6
CHANCE_OF_WRONG_ALARM = 1e-4
CHANCE_OF_NOISE = 5e-4
LEAST_POSITIONS = 4
LEAST_POSITIONS_UNTOLD = 5
FLATTEST_LOG_WIDTH = 12.0
USUAL_BEND = 0.1
"""By what share a half-width of travel is worth more or less than the one before it: one sigma of what is expected of a
slug's or a trimmer's travel (a prior; common practice, no source)."""

MOST_BENT = 30.0


class GoOn(StrEnum):
    """Which way to go on where the peak has not been passed."""

    SAME_WAY = "the same way"
    OTHER_WAY = "the other way"


@dataclass(frozen=True, slots=True)
class StepFit:
    """What the levels against nudges tell. Positions are in nudges, as they were given.

    `go_back`: nudges from the last position to the peak, against the way the nudges were counted (positive: the last
    position has the higher number). `gain_db`: what the peak has over the first reading. `shape`: L, x0 and w, for
    drawing, and `bend`: by what share a half-width of travel is worth more than the one before. All but `bend` are
    None, and `go_on` may say which way to go, where the peak was not passed on both sides.
    """

    peak_position: Estimate | None
    go_back: Estimate | None
    peak_level_db: Estimate | None
    gain_db: Estimate | None
    shape: tuple[float, float, float] | None
    go_on: GoOn | None
    text: str
    doubts: tuple[Doubt, ...]
    bend: float = 0.0

    def level_db(self, position: ArrayLike) -> Array:
        """Give the fitted level in dB at positions, shape (n,); not a number where there is no fit."""
        x = np.asarray(position, dtype=np.float64)
        if self.shape is None:
            return np.full_like(x, np.nan)
        level, peak, width = self.shape
        return level - DB_PER_E * np.log1p(_bent((x - peak) / width, self.bend)[0] ** 2)


def fit_steps(position: ArrayLike, level_db: ArrayLike, sigma_db: ArrayLike | None = None) -> StepFit:
    """Fit level against equal nudges of one adjuster.

    Args:
        position: Shape (n,), in nudges, in the order taken; the last one is where the adjuster stands.
        level_db: Shape (n,). Levels that are not numbers are left out.
        sigma_db: One-sigma noise of a level, one value or shape (n,); None: learnt from the scatter.

    Raises:
        ValueError: where the arrays do not match.
    """
    x, level = np.asarray(position, dtype=np.float64), np.asarray(level_db, dtype=np.float64)
    if x.ndim != 1 or x.shape != level.shape:
        raise ValueError("Step and fit needs one level for each position of the adjuster.")
    good = np.isfinite(x) & np.isfinite(level)
    sigma = np.broadcast_to(np.asarray(1.0 if sigma_db is None else sigma_db, dtype=np.float64), x.shape)[good]
    last = float(x[-1]) if len(x) else 0.0
    x, level = x[good], level[good]
    least = LEAST_POSITIONS if sigma_db is not None else LEAST_POSITIONS_UNTOLD
    if len(np.unique(x)) < least:
        text = f"Step and fit needs levels at {least} or more positions; go on by equal nudges."
        return _refused(DoubtName.TOO_FEW_READINGS, text, None)
    return _Steps(x, level, sigma, last, learn=sigma_db is None).judge()


def _refused(name: DoubtName, text: str, go_on: GoOn | None) -> StepFit:
    return StepFit(None, None, None, None, None, go_on, text, (Doubt(name, text),))


def _width(log_width: float) -> float:
    """Keep the width finite, however carelessly the solver steps."""
    return math.exp(min(max(log_width, -FLATTEST_LOG_WIDTH), FLATTEST_LOG_WIDTH))


def _bent(travel: Array, bend: float) -> tuple[Array, Array, Array]:
    """Turn travel in half-widths into detuning: (exp(bend t) - 1) / bend, and its slopes by travel and by bend.

    It rises all along, however much it is bent, and is t + bend t^2 / 2 near the peak.
    """
    if abs(bend) < 1e-5:  # noqa: PLR2004 - where the difference of two like numbers would be lost to rounding
        return travel + 0.5 * bend * travel**2, 1.0 + bend * travel, 0.5 * travel**2
    exponent = np.clip(bend * travel, -MOST_BENT, MOST_BENT)
    slope = np.exp(exponent)
    detuning = np.expm1(exponent) / bend
    return detuning, slope, (travel * slope - detuning) / bend


def _fall(x: Array, parameters: Array) -> tuple[Array, Array]:
    """Give how far the level is below its peak, shape (n,), and minus its slopes by the parameters, shape (n, 4)."""
    _, peak, log_width, bend = (float(value) for value in parameters)
    width = _width(log_width)
    travel = (x - peak) / width
    u, by_travel, by_bend = _bent(travel, bend)
    steep = 2.0 * DB_PER_E * u / (1.0 + u * u)
    columns = (np.zeros_like(u), steep * by_travel / width, steep * by_travel * travel, -steep * by_bend)
    return DB_PER_E * np.log1p(u * u), np.column_stack(columns)


class _Steps:
    """The readings of one pass and the fit to them."""

    def __init__(self, x: Array, level: Array, sigma: Array, last: float, *, learn: bool) -> None:
        self.x, self.level, self.sigma, self.last, self.learn = x, level, sigma, last, learn
        self.freedom = len(x) - 3
        self.noise = 1.0
        self.solution = self._best()
        if learn:
            # The prior is a reading of the bend: how much it weighs beside the others depends on their noise.
            self.noise = max(math.sqrt(self.solution.cost / self.freedom), LEAST_NOISE_DB)
            self.solution = self._best()
        self.scatter = math.sqrt(self.solution.cost / self.freedom) if learn else 1.0

    def judge(self) -> StepFit:
        if not self._moves():
            text = (
                f"The level moved by no more than its noise over {np.ptp(self.x):g} nudges; the adjuster may be "
                "seized or broken, or not belong to this circuit."
            )
            return _refused(DoubtName.NO_RISE, text, None)
        if not self._passed():
            return self._not_passed()
        if self._poor():
            text = (
                f"The levels miss a single peak by {say_db(self._misfit_db())}; the nudges were unequal, the slug "
                "slips, or the level drifts: go through the peak once more."
            )
            return _refused(DoubtName.POOR_FIT, text, None)
        return self._result()

    def _best(self) -> Solution:
        return min((self._fit(width) for width in (0.5, 1.0, 3.0)), key=lambda solution: solution.cost)

    def _fit(self, share_of_span: float) -> Solution:
        log_width = math.log(share_of_span * float(np.ptp(self.x)))
        start = np.array([self.level.max(), self.x[np.argmax(self.level)], log_width, 0.0])
        return least_squares(self._residual, start, tolerance=1e-8)

    def _residual(self, parameters: Array) -> tuple[Array, Array]:
        fall, slope = _fall(self.x, parameters)
        residual = (parameters[0] - fall - self.level) / self.sigma
        slope[:, 0] = 1.0
        prior = np.array([0.0, 0.0, 0.0, self.noise / USUAL_BEND])
        return np.append(residual, prior @ parameters), np.vstack((slope / self.sigma[:, None], prior))

    def _noise_db(self) -> float:
        return self.scatter * float(np.sqrt(np.mean(self.sigma**2)))

    def _misfit_db(self) -> float:
        return float(np.sqrt(np.mean((self.solution.residual[:-1] * self.sigma) ** 2)))

    def _moves(self) -> bool:
        """Tell whether the levels differ by more than their noise, judged without any curve where it is known."""
        spread_db = float(np.ptp(self.level))
        if spread_db < LEAST_FALL_DB:
            return False
        if self.learn:
            flat = float(np.sum((self.level - self.level.mean()) ** 2))
            explained = (flat - self.solution.cost) / 2.0 / max(self.solution.cost / self.freedom, 1e-12)
            return explained > float(fdtri(2, self.freedom, 1.0 - CHANCE_OF_NOISE))
        mean = float(np.average(self.level, weights=self.sigma**-2.0))
        chance = float(chdtri(len(self.x) - 1, CHANCE_OF_WRONG_ALARM))
        return float(np.sum(((self.level - mean) / self.sigma) ** 2)) > chance

    def _passed(self) -> bool:
        """Tell whether the fitted peak stands clearly above both ends and lies between them."""
        peak = self.solution.parameters[1]
        low, high = float(self.x.min()), float(self.x.max())
        if not low < peak < high:
            return False
        clear_db = max(CLEAR_FALL_SIGMAS * self._noise_db() / math.sqrt(len(self.x) / 3.0), LEAST_FALL_DB)
        fall_low, fall_high = self._fall_db(low), self._fall_db(high)
        return bool(min(fall_low, fall_high) > clear_db) and bool(2.0 * self._sigma(1) < min(peak - low, high - peak))

    def _fall_db(self, x: float) -> float:
        return float(_fall(np.array([x]), self.solution.parameters)[0][0])

    def _not_passed(self) -> StepFit:
        line = np.polynomial.Polynomial.fit(self.x, self.level, 1, w=1.0 / self.sigma)
        peak = float(self.solution.parameters[1])
        middle = 0.5 * float(self.x.min() + self.x.max())
        rising = float(line.deriv()(middle))
        towards = peak - middle if self.x.min() < peak < self.x.max() else rising
        travelled = self.last - float(self.x[0])
        go_on = GoOn.SAME_WAY if towards * travelled >= 0.0 else GoOn.OTHER_WAY
        if go_on is GoOn.SAME_WAY:
            text = (
                "The peak has not been passed: the level does not fall clearly yet; go on by equal nudges the same way."
            )
        else:
            text = "The peak lies on the other side of where you started; turn back past the start by equal nudges."
        return _refused(DoubtName.NOT_BRACKETED, text, go_on)

    def _poor(self) -> bool:
        if self.learn:
            return self._noise_db() > 0.25 * max(self._fall_db(float(self.x.min())), self._fall_db(float(self.x.max())))
        return bool(self.solution.cost > chdtri(self.freedom, CHANCE_OF_WRONG_ALARM))

    def _covariance(self) -> Array:
        return inverse_information(self.solution.jacobian) * self.scatter**2

    def _sigma(self, index: int) -> float:
        """Give a one-sigma of which 1.96 cover 95 %, though the noise be learnt from few readings (Student's t)."""
        return self._of(np.eye(4)[index])

    def _of(self, gradient: Array) -> float:
        covariance = self._covariance()
        if not np.isfinite(covariance).all():
            return math.inf
        widening = float(stdtrit(self.freedom, 0.975)) / 1.959964 if self.learn else 1.0
        return widening * math.sqrt(float(gradient @ covariance @ gradient))

    def _result(self) -> StepFit:
        level, peak, log_width, bend = (float(value) for value in self.solution.parameters)
        position = Estimate(peak, self._sigma(1))
        back = Estimate(self.last - peak, position.sigma)
        fall, slope = _fall(self.x[:1], self.solution.parameters)
        gain = Estimate(float(fall[0]), self._of(-slope[0]))
        top = Estimate(level, self._sigma(0))
        return StepFit(position, back, top, gain, (level, peak, _width(log_width)), None, _say_go_back(back), (), bend)


def _say_go_back(back: Estimate) -> str:
    quarters = round(4.0 * back.value) / 4.0
    if quarters == 0.0:
        return f"The adjuster stands on the peak, to within {back.expanded:.2f} of a nudge: leave it there."
    way = "back" if quarters > 0.0 else "on"
    return f"Go {way} {abs(quarters):g} nudges (the peak is known to ± {back.expanded:.2f} of a nudge)."
