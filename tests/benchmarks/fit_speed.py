"""One fit of 201 readings with every kind of curve compared, against lmfit fitting one of them to the same readings."""

import time
from collections.abc import Callable
from dataclasses import dataclass
from statistics import median

import lmfit
import numpy as np
from numpy.typing import NDArray

from sequences.numerics.responses.passband import fit_passband

Array = NDArray[np.float64]

F0_HZ = 455e3
READINGS = 201
ROUNDS = 61


def _detuning(f: Array, f0_hz: float, q: float) -> Array:
    detuning: Array = q * (f / f0_hz - f0_hz / f)
    return detuning


def _single(f: Array, f0_hz: float, q: float, top_db: float) -> Array:
    level: Array = top_db - 10 * np.log10(1 + _detuning(f, f0_hz, q) ** 2)
    return level


def _pair(f: Array, f0_hz: float, q: float, top_db: float, coupling: float) -> Array:
    square = _detuning(f, f0_hz, q) ** 2
    level: Array = top_db - 10 * np.log10((1 + coupling**2 - square) ** 2 + 4 * square)
    return level


def _skewed_pair(f: Array, f0_hz: float, q: float, top_db: float, coupling: float, apart: float) -> Array:
    """One circuit of twice the other's Q, and the two tuned `apart` half widths of the wider one to either side."""
    detuning = _detuning(f, f0_hz, q)
    wide, narrow = detuning - apart, 2 * (detuning + apart)
    level: Array = top_db - 10 * np.log10((1 + coupling**2 - wide * narrow) ** 2 + (wide + narrow) ** 2)
    return level


def _two_equal(f: Array, f0_hz: float, q: float, top_db: float) -> Array:
    level: Array = top_db - 20 * np.log10(1 + _detuning(f, f0_hz, q) ** 2)
    return level


def _four_equal(f: Array, f0_hz: float, q: float, top_db: float) -> Array:
    level: Array = top_db - 40 * np.log10(1 + _detuning(f, f0_hz, q) ** 2)
    return level


def _flat_top(f: Array, f0_hz: float, q: float, top_db: float) -> Array:
    level: Array = top_db - 10 * np.log10(1 + _detuning(f, f0_hz, q) ** 12)
    return level


def _rippled_top(f: Array, f0_hz: float, q: float, top_db: float, ripple: float) -> Array:
    """Four poles with equal ripples: 1 + ripple^2 T4(x)^2, T4 the Chebyshev polynomial."""
    square = _detuning(f, f0_hz, q) ** 2
    level: Array = top_db - 10 * np.log10(1 + (ripple * (8 * square * (square - 1) + 1)) ** 2)
    return level


@dataclass(frozen=True)
class _Case:
    """A kind of curve, and what lmfit starts from beside the frequency and the level of the highest reading."""

    curve: Callable[..., Array]
    truth: dict[str, float]
    start: dict[str, float]


CASES = {
    "single circuit": _Case(_single, {"q": 60.0}, {"q": 40.0}),
    "loose pair": _Case(_pair, {"q": 60.0, "coupling": 0.5}, {"q": 40.0, "coupling": 0.8}),
    "critical pair": _Case(_pair, {"q": 60.0, "coupling": 1.0}, {"q": 40.0, "coupling": 0.8}),
    "over-coupled pair": _Case(_pair, {"q": 60.0, "coupling": 2.0}, {"q": 40.0, "coupling": 1.5}),
    "skewed pair": _Case(
        _skewed_pair,
        {"q": 40.0, "coupling": 1.2, "apart": 0.4},
        {"q": 30.0, "coupling": 1.0, "apart": 0.1},
    ),
    "two equal circuits": _Case(_two_equal, {"q": 60.0}, {"q": 40.0}),
    "four equal circuits": _Case(_four_equal, {"q": 60.0}, {"q": 40.0}),
    "rippled top of four poles": _Case(_rippled_top, {"q": 30.0, "ripple": 0.35}, {"q": 20.0, "ripple": 0.5}),
    "flat top of six poles": _Case(_flat_top, {"q": 30.0}, {"q": 20.0}),
}


def _ms(work: Callable[[], object]) -> float:
    """Time of the processor, so that what else the machine does hardly counts."""
    began_s = time.process_time()
    work()
    return 1e3 * (time.process_time() - began_s)


def _both_ms(case: _Case, model: lmfit.Model, seed: int) -> tuple[float, float]:
    """Times in ms of ours and of lmfit's for one draw of the noise."""
    f = np.linspace(F0_HZ - 30e3, F0_HZ + 30e3, READINGS)
    level = case.curve(f, F0_HZ, top_db=-3.0, **case.truth) + np.random.default_rng(seed).normal(0, 0.1, f.size)
    start = {"f0_hz": float(f[np.argmax(level)]), "top_db": float(level.max()), **case.start}
    return _ms(lambda: fit_passband(f, level)), _ms(lambda: model.fit(level, f=f, **start))


def compare(name: str) -> tuple[float, float]:
    """Give the median times in ms of ours and of lmfit's, taken turn by turn, each turn with noise of its own."""
    case = CASES[name]
    model = lmfit.Model(case.curve, independent_vars=["f"])
    rounds = [_both_ms(case, model, seed) for seed in range(ROUNDS)]
    ours, theirs = (median(column) for column in zip(*rounds[1:], strict=True))
    return ours, theirs


def main() -> None:
    """Print the table."""
    for name in CASES:
        ours, theirs = compare(name)
        print(  # noqa: T201 - a benchmark prints
            f"{name:26} all kinds {ours:5.2f} ms, lmfit the right one {theirs:5.2f} ms, ratio {ours / theirs:.2f}"
        )


if __name__ == "__main__":
    main()
