"""Responses: undo the detector's law, fit circuits, find the 3 dB points."""

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import lmfit
import numpy as np
from numpy.polynomial import Chebyshev
from numpy.typing import NDArray
from scipy.optimize import brentq

from tests.bench.recomputed.export import Figure, Reading, Run

Floats = NDArray[np.float64]
HALF_POWER_DB = 10.0 * np.log10(2.0)
LAW_TERMS = 5
GRID = 8001
STEP_SHARE = 1e-6


def sweeps(run: Run) -> Iterator[tuple[Reading, ...]]:
    """Split a run into its sweeps: each begins with readings of the quiet meter, and learns the detector's law."""
    sweep: list[Reading] = []
    for reading in run.readings:
        if reading.purpose == "quiet" and sweep and sweep[-1].purpose != "quiet":
            yield tuple(sweep)
            sweep = []
        sweep.append(reading)
    yield tuple(sweep)


@dataclass(frozen=True)
class Law:
    """How the meter answers to level: a smooth curve from the logarithm of its rise to dB, within what was stepped."""

    quiet: float
    curve: Chebyshev
    least: float
    most: float


def law_of(sweep: Sequence[Reading]) -> Law:
    """Learn the law from the steps that the source took at one frequency, the most it took at any."""
    quiet = float(np.mean([reading.value for reading in sweep if reading.purpose == "quiet"]))
    steps = _steps(sweep)
    rise = [abs(reading.value - quiet) for reading in steps]
    curve = Chebyshev.fit(np.log(rise), [reading.power_dbm for reading in steps], LAW_TERMS)
    return Law(quiet, curve, float(np.log(min(rise))), float(np.log(max(rise))))


def _steps(sweep: Sequence[Reading]) -> list[Reading]:
    by_frequency: dict[float, list[Reading]] = defaultdict(list)
    for reading in sweep:
        if reading.purpose == "calibration":
            by_frequency[reading.frequency_hz].append(reading)
    return max(by_frequency.values(), key=lambda group: len({reading.power_dbm for reading in group}))


def levels(readings: Sequence[Reading], law: Law) -> tuple[Floats, Floats, Floats]:
    """Give frequencies in Hz, levels in dB and their relative sigmas, of the readings within the law.

    Every meter reading is taken to be as noisy as its own size, so that the law's slope weighs it.
    """
    size = np.log(np.maximum([abs(reading.value - law.quiet) for reading in readings], 1e-12))
    known = (size >= law.least) & (size <= law.most)
    frequency_hz = np.array([reading.frequency_hz for reading in readings])[known]
    power_dbm = np.array([reading.power_dbm for reading in readings])[known]
    return frequency_hz, law.curve(size[known]) - power_dbm, np.abs(law.curve.deriv()(size[known]))


def swept(sweep: Sequence[Reading]) -> list[Reading]:
    """Give the readings over frequency; those at the frequency of the steps made the law."""
    at_hz = _steps(sweep)[0].frequency_hz
    over_frequency = [reading for reading in sweep if reading.purpose in {"calibration", "scan", "settling"}]
    return [one for one in over_frequency if one.frequency_hz != at_hz or one.purpose != "calibration"]


Model = Callable[..., Floats]


def one_circuit(hz: Floats, own_hz: float, quality: float, top_db: float) -> Floats:
    """One circuit: half the power is left where Q(f/f0 - f0/f) is 1 either way."""
    return np.asarray(top_db - 10.0 * np.log10(1.0 + (quality * (hz / own_hz - own_hz / hz)) ** 2))


def two_circuits(hz: Floats, first_hz: float, second_hz: float, quality: float, top_db: float) -> Floats:
    """Two circuits of one Q, each on its own frequency, one after the other."""
    loss = [1.0 + (quality * (hz / own - own / hz)) ** 2 for own in (first_hz, second_hz)]
    return np.asarray(top_db - 10.0 * np.log10(loss[0] * loss[1]))


def four_circuits(hz: Floats, centre_hz: float, a: float, b: float, c: float, d: float, top_db: float) -> Floats:
    """Four poles in two pairs, -a +- jb and -c +- jd, about a centre, in the exact detuning of a resonant circuit."""
    detuned = (hz / centre_hz - centre_hz / hz) * centre_hz / 2.0
    pairs = [
        ((p * p + q * q - detuned**2) ** 2 + 4 * p * p * detuned**2) / (p * p + q * q) ** 2 for p, q in ((a, b), (c, d))
    ]
    return np.asarray(top_db - 10.0 * np.log10(pairs[0] * pairs[1]))


def two_pairs(
    hz: Floats, a_hz: float, b_hz: float, quality: float, c_hz: float, d_hz: float, other: float, top_db: float
) -> Floats:
    """Two pairs of circuits one after the other, each pair of one Q: where they are apart the whole is skewed."""
    return two_circuits(hz, a_hz, b_hz, quality, top_db) + two_circuits(hz, c_hz, d_hz, other, 0.0)


@dataclass(frozen=True)
class Fitted:
    """A response that was fitted: `values` of its model's parameters, with their covariance."""

    model: Model
    values: Floats
    covariance: Floats
    middle_hz: float
    half_hz: float

    def level_db(self, hz: Floats) -> Floats:
        """Give the level there."""
        return self.model(hz, *self.values)

    def figures(self, function: Callable[[Floats], Floats]) -> list[Figure]:
        """Work out what follows from the parameters, each with its sigma."""
        slopes = np.array([_slope(function, self.values, index) for index in range(self.values.size)]).T
        sigmas = np.sqrt(np.diag(slopes @ self.covariance @ slopes.T))
        return [Figure(float(value), float(sigma)) for value, sigma in zip(function(self.values), sigmas, strict=True)]

    def centre_and_width(self) -> tuple[Figure, Figure]:
        """Give centre and 3 dB width in Hz."""

        def points(at: Floats) -> Floats:
            return _centre_and_width(lambda hz: self.model(hz, *at), self.middle_hz, self.half_hz)

        centre, width = self.figures(points)
        return centre, width

    def coupling(self) -> Figure:
        """Give kQ of a coupled pair: its responses split by k f0, so that each hump is off by kQ in units of f0 / Q."""

        def product(at: Floats) -> Floats:
            first_hz, second_hz, quality, _ = at
            return np.array([quality * abs(second_hz - first_hz) / np.sqrt(first_hz * second_hz)])

        return self.figures(product)[0]

    def loss_db(self, at: Figure) -> Figure:
        """Give how far below its top a response is at a frequency, itself not surely known."""

        def loss(values: Floats) -> Floats:
            hz = np.linspace(self.middle_hz - self.half_hz, self.middle_hz + self.half_hz, GRID)
            return np.array([self.model(hz, *values).max() - self.model(np.array([at.value]), *values)[0]])

        (own,) = self.figures(loss)
        ends = self.level_db(np.array([at.value - at.sigma, at.value + at.sigma]))
        return Figure(own.value, float(np.hypot(own.sigma, (ends[1] - ends[0]) / 2.0)))


def fit_sweep(
    sweep: Sequence[Reading], model: Model, *, within_db: float = np.inf, behind: Fitted | None = None
) -> Fitted:
    """Fit a model to what a sweep shows within so many dB of its top.

    `behind` is the response of what lies behind the circuits, and is taken off first.
    """
    hz, level_db, weight_db = levels(swept(sweep), law_of(sweep))
    near = level_db > level_db.max() - within_db
    level_db = level_db if behind is None else level_db - behind.level_db(hz)
    return fit_levels(hz[near], level_db[near], weight_db[near], model)


def fit_levels(hz: Floats, level_db: Floats, weight_db: Floats, model: Model) -> Fitted:
    """Fit a model to levels of given relative sigmas."""
    near_hz = hz[level_db > level_db.max() - 4.0]
    middle_hz, half_hz = float(near_hz.mean()), float(np.ptp(near_hz)) / 2.0
    starts = STARTS[model](middle_hz, half_hz, float(level_db.max()))
    best = min((_fit(model, start, hz, level_db, weight_db) for start in starts), key=lambda fit: fit.chisqr)
    values = np.array([parameter.value for parameter in best.params.values()])
    jacobian = np.array([_slope(lambda at: model(hz, *at) / weight_db, values, index) for index in range(values.size)])
    covariance = np.linalg.pinv(jacobian @ jacobian.T, rcond=1e-12) * best.redchi
    return Fitted(model, values, covariance, middle_hz, half_hz)


Start = dict[str, float]


def _one(middle_hz: float, half_hz: float, top_db: float) -> list[Start]:
    return [{"f": middle_hz, "q": middle_hz / half_hz / 2.0, "top": top_db}]


def _two(middle_hz: float, half_hz: float, top_db: float) -> list[Start]:
    quality = middle_hz / half_hz / 2.0
    return [
        {"f": middle_hz - half_hz * by, "g": middle_hz + half_hz * by, "q": quality, "top": top_db}
        for by in (0.05, 0.3, 0.6)
    ]


def _four(middle_hz: float, half_hz: float, top_db: float) -> list[Start]:
    shapes = ((0.9, 0.4, 0.4, 0.9), (0.5, 0.3, 0.5, 1.0), (0.7, 0.7, 0.7, 0.2), (0.3, 1.0, 0.9, 0.3))
    return [
        {"centre": middle_hz, **{name: half_hz * part for name, part in zip("abcd", shape, strict=True)}, "top": top_db}
        for shape in shapes
    ]


def _pairs(middle_hz: float, half_hz: float, top_db: float) -> list[Start]:
    quality = middle_hz / half_hz / 2.0
    apart = ((wide * half_hz, narrow * half_hz) for wide in (0.6, 0.9) for narrow in (0.3, 0.6))
    return [
        {
            "a": middle_hz - wide,
            "b": middle_hz + narrow,
            "q": quality,
            "c": middle_hz - narrow,
            "d": middle_hz + wide,
            "r": quality,
            "top": top_db,
        }
        for wide, narrow in apart
    ]


STARTS: dict[Model, Callable[[float, float, float], list[Start]]] = {
    one_circuit: _one,
    two_circuits: _two,
    four_circuits: _four,
    two_pairs: _pairs,
}
"""Where the search for each model's parameters begins."""


def _fit(model: Model, start: Start, hz: Floats, level_db: Floats, weight_db: Floats) -> Any:  # noqa: ANN401 - lmfit is untyped
    parameters = lmfit.Parameters()
    for name, value in start.items():
        parameters.add(name, value)

    def misfit(now: Any) -> Floats:  # noqa: ANN401 - the same
        return np.asarray((model(hz, *(now[name].value for name in start)) - level_db) / weight_db)

    return lmfit.minimize(misfit, parameters, method="least_squares", x_scale="jac")


def _slope(function: Callable[[Floats], Floats], at: Floats, index: int) -> Floats:
    step = np.zeros_like(at)
    step[index] = max(abs(at[index]) * STEP_SHARE, 1e-6)
    return np.asarray((function(at + step) - function(at - step)) / (2.0 * step[index]))


def _centre_and_width(response: Callable[[Floats], Floats], middle_hz: float, half_hz: float) -> Floats:
    grid = np.linspace(middle_hz - 2.5 * half_hz, middle_hz + 2.5 * half_hz, GRID)
    level_db = response(grid)
    least_db = level_db.max() - HALF_POWER_DB
    inside = np.flatnonzero(level_db >= least_db)

    def over(hz: float) -> float:
        return float(response(np.array([hz]))[0] - least_db)

    lower = brentq(over, grid[inside[0] - 1], grid[inside[0]])
    upper = brentq(over, grid[inside[-1]], grid[inside[-1] + 1])
    return np.array([(lower + upper) / 2.0, upper - lower])
