"""Lines in a record, fitted together: free tones, and a comb of mains harmonics.

Least squares over the exact samples, by Gauss-Newton steps. For white noise it reaches the Cramer-Rao bound of a tone
(Kay, Fundamentals of Statistical Signal Processing: Estimation Theory, 1993, section 3.11, eq. 3.41). Time counts from
the middle of the record: there a tone's frequency depends neither on its phase nor on how fast it drifts.
"""

from dataclasses import dataclass, replace

import numpy as np
import scipy

from sequences.numerics.arrays import Array
from sequences.numerics.sound.moments import POWERS, Moments

_MOST_STEPS = 10
_LONGEST_STEP = 0.25
"""In cycles over the record: a step beyond it leaves the hill that it climbs."""

_CONVERGED = 1e-5
_MAINS_SPREAD = 0.002
"""One sigma of the mains frequency as a share of its nominal value. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class LineModel:
    """Which lines there are: free tones in Hz, and harmonics of `comb_hz`."""

    tones_hz: tuple[float, ...] = ()
    comb_hz: float | None = None
    nominal_hz: float = 50.0
    orders: tuple[int, ...] = ()

    @property
    def lines_hz(self) -> tuple[float, ...]:
        """Every line: the free tones, then the harmonics."""
        return (*self.tones_hz, *((self.comb_hz or 0.0) * order for order in self.orders))


@dataclass(frozen=True, slots=True)
class LineFit:
    """Fitted lines. `amplitudes` are peak values in the order of `model.lines_hz`; `residual` is what they leave.

    `drift_hz_per_s` is how the first tone drifts, as far as a straight line of its phase tells. The variances are those
    for white noise of variance one a sample: of the first tone's frequency, its drift, and its amplitude.
    """

    model: LineModel
    amplitudes: Array
    residual: Array
    drift_hz_per_s: float
    unit_variance_hz2: float
    unit_variance_drift: float
    unit_variance_amplitude: float


def fit_lines(samples: Array, rate_hz: float, model: LineModel) -> LineFit:
    """Fit the lines of a model to samples, beginning at its frequencies."""
    fitting = _Fitting(samples, rate_hz)
    found = fitting.step(model, None)
    if model.lines_hz:
        for _ in range(_MOST_STEPS):
            found = fitting.step(model, found.linear)
            if fitting.cycles(found.slopes) < _CONVERGED:
                break
            model = fitting.moved(model, found)
    return fitting.finished(model, found)


@dataclass(frozen=True, slots=True)
class _Solved:
    """One least-squares solution: the constant with the cosines and sines, the moves, and the inverse normal matrix."""

    linear: Array
    slopes: Array
    drift: float
    inverse: Array


class _Fitting:
    """One record, and the least-squares steps over it."""

    def __init__(self, samples: Array, rate_hz: float) -> None:
        self._samples = samples
        self._moments = Moments(samples)
        self._half_s = len(samples) / rate_hz / 2
        self._power = float(samples @ samples)

    def step(self, model: LineModel, linear: Array | None) -> _Solved:
        """Solve for amplitudes, and where those of a step before are given, for the moves of the frequencies too."""
        gram, target = self._primitives(model)
        table = _columns(model, linear, self._half_s)
        gram, target = table.T @ gram @ table, table.T @ target
        count = 1 + 2 * len(model.lines_hz)
        if linear is not None and model.comb_hz is not None:
            self._hold_mains(model, gram, target)
        scale = 1.0 / np.sqrt(np.maximum(np.diag(gram), np.finfo(float).tiny))
        inverse = scipy.linalg.pinvh(gram * np.outer(scale, scale)) * np.outer(scale, scale)
        found = inverse @ target
        drifts = linear is not None and bool(model.tones_hz)
        if not drifts:
            return _Solved(found[:count], found[count:], 0.0, inverse)
        return _Solved(found[:count], found[count + 1 :], float(found[count]), inverse)

    def cycles(self, slopes: Array) -> float:
        """Give the largest move, in cycles over the record."""
        return float(np.abs(slopes).max(initial=0.0)) * 2 * self._half_s

    def moved(self, model: LineModel, found: _Solved) -> LineModel:
        """Move the frequencies by what was found, no further than is safe."""
        longest_hz = _LONGEST_STEP / (2 * self._half_s)
        moves = np.clip(found.slopes, -longest_hz, longest_hz)
        tones = len(model.tones_hz)
        if not moves.size:
            return model
        model = replace(model, tones_hz=tuple((np.asarray(model.tones_hz) + moves[:tones]).tolist()))
        return model if model.comb_hz is None else replace(model, comb_hz=model.comb_hz + float(moves[-1]))

    def finished(self, model: LineModel, found: _Solved) -> LineFit:
        """Give the fit with its residual and variances."""
        cosines, sines = found.linear[1::2], found.linear[2::2]
        turns = np.array((0.0, *model.lines_hz)) * 2 * np.pi * self._half_s
        phasors = np.concatenate((found.linear[:1], cosines - 1j * sines))
        residual = self._samples - self._moments.lines(turns, phasors)
        sizes = np.hypot(cosines, sines)
        if not model.tones_hz:
            return LineFit(model, sizes, residual, 0.0, np.inf, np.inf, np.inf)
        along = found.linear[1:3] / max(float(sizes[0]), np.finfo(float).tiny)
        at = len(found.linear)
        return LineFit(
            model,
            sizes,
            residual,
            found.drift,
            unit_variance_hz2=float(found.inverse[at + 1, at + 1]),
            unit_variance_drift=float(found.inverse[at, at]),
            unit_variance_amplitude=float(along @ found.inverse[1:3, 1:3] @ along),
        )

    def _hold_mains(self, model: LineModel, gram: Array, target: Array) -> None:
        """Weigh in what is known of the mains beforehand: it hardly leaves its nominal frequency."""
        linear = 1 + 2 * len(model.lines_hz)
        inner = scipy.linalg.pinvh(gram[:linear, :linear])
        left = self._power - float(target[:linear] @ inner @ target[:linear])
        noise = max(left, np.finfo(float).tiny) / len(self._samples)
        weight = noise / (_MAINS_SPREAD * model.nominal_hz) ** 2
        gram[-1, -1] += weight
        target[-1] += weight * (model.nominal_hz - (model.comb_hz or 0.0))

    def _primitives(self, model: LineModel) -> tuple[Array, Array]:
        """Give products of u^p cos and u^p sin of every line, the constant first, with one another and the samples."""
        turns = np.array((0.0, *model.lines_hz)) * 2 * np.pi * self._half_s
        lines = len(turns)
        sums = self._moments.of_samples(turns)
        pairs = np.concatenate(((turns[:, None] + turns).reshape(-1), (turns[:, None] - turns).reshape(-1)))
        ones = self._moments.of_ones(pairs).reshape(2 * POWERS - 1, 2, lines, lines)
        gram = np.empty((POWERS, 2, lines, POWERS, 2, lines))
        for left in range(POWERS):
            for right in range(POWERS):
                plus, minus = ones[left + right]
                gram[left, 0, :, right, 0] = (plus + minus).real / 2
                gram[left, 1, :, right, 1] = (minus - plus).real / 2
                gram[left, 0, :, right, 1] = (plus - minus).imag / 2
                gram[left, 1, :, right, 0] = (plus + minus).imag / 2
        size = POWERS * 2 * lines
        target = np.stack((sums.real, sums.imag), axis=1).reshape(size)
        return gram.reshape(size, size), target


def _columns(model: LineModel, linear: Array | None, half_s: float) -> Array:
    """Give the table that makes a fit's columns of the primitives: constant, cosines and sines, then the slopes.

    The slopes are those of the first tone's drift (Hz/s), of each tone's frequency, and of the comb's (Hz).
    """
    lines, tones = 1 + len(model.lines_hz), len(model.tones_hz)
    at = np.arange(POWERS * 2 * lines).reshape(POWERS, 2, lines)
    columns = [_unit(at.size, [(at[0, 0, 0], 1.0)])]
    for line in range(1, lines):
        columns += [_unit(at.size, [(at[0, part, line], 1.0)]) for part in (0, 1)]
    if linear is None:
        return np.stack(columns, axis=1)

    def slope(power: int, line: int, factor: float) -> list[tuple[int, float]]:
        cosine, sine = linear[2 * line - 1], linear[2 * line]
        return [(at[power, 0, line], factor * sine), (at[power, 1, line], -factor * cosine)]

    if tones:
        columns.append(_unit(at.size, slope(2, 1, np.pi * half_s**2)))
    columns += [_unit(at.size, slope(1, line, 2 * np.pi * half_s)) for line in range(1, 1 + tones)]
    if model.comb_hz is not None:
        parts = [
            part
            for place, order in enumerate(model.orders)
            for part in slope(1, 1 + tones + place, 2 * np.pi * half_s * order)
        ]
        columns.append(_unit(at.size, parts))
    return np.stack(columns, axis=1)


def _unit(size: int, parts: list[tuple[int, float]]) -> Array:
    column = np.zeros(size)
    for place, factor in parts:
        column[place] += factor
    return column
