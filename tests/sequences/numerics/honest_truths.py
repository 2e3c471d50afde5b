"""Responses of seven kinds whose figures are known without any fit, and sweeps of them with noise.

The formulas stand on their own here, written from their published form: universal resonance curve and cascades of it,
F. E. Terman, Radio Engineers' Handbook (1943) section 3; two coupled circuits, C. B. Aiken, Two-Mesh Tuned Coupled
Circuit Filters, Proc. IRE 25 (1937); flat tops, S. Butterworth, Wireless Engineer 7 (1930), and Chebyshev's polynomials
(all from memory). Their figures are searched on a dense grid, so that no closed form need be trusted either.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tests.published.responses import HALF_POWER_DB, detuning_at, pair_db, single_db

Array = NDArray[np.float64]
Response = Callable[[Array], Array]

F0_HZ = 470e3
CIRCUIT_Q = 60.0
_GRID = np.linspace(F0_HZ - 60e3, F0_HZ + 60e3, 1_200_001)


@dataclass(frozen=True, slots=True)
class Truth:
    """A response in dB and what a perfect measurement of it would report, in Hz."""

    level_db: Response
    centre_hz: float
    width_hz: float


def measured_perfectly(level_db: Response) -> Truth:
    """Search centre and width, between the outermost half-power points, on a grid of 0.1 Hz."""
    level = level_db(_GRID)
    above = np.flatnonzero(level > level.max() - HALF_POWER_DB)
    lower, upper = _GRID[above[0]], _GRID[above[-1]]
    return Truth(level_db, float(0.5 * (lower + upper)), float(upper - lower))


def detuning(frequency_hz: Array, f0_hz: float = F0_HZ, q: float = CIRCUIT_Q) -> Array:
    """Exact detuning Q (f/f0 - f0/f), shape (n,)."""
    return detuning_at(frequency_hz, f0_hz, q)


def equal_circuits(count: int) -> Truth:
    """So many equal circuits one after another."""
    return measured_perfectly(lambda f: count * single_db(detuning(f)))


def coupled_pair(coupling: float) -> Truth:
    """Two equal circuits; the coupling is kQ."""
    return measured_perfectly(lambda f: pair_db(detuning(f), coupling))


def skewed_pair(coupling: float, apart: float, ratio_of_qs: float) -> Truth:
    """Two coupled circuits, each with its own frequency and Q: |1 / ((1 + j a1)(1 + j a2) + k^2)|.

    The coupling is k sqrt(Q1 Q2); apart is the distance of their frequencies in widths of one circuit.
    """
    off = 0.5 * apart / CIRCUIT_Q
    q = CIRCUIT_Q * np.sqrt([ratio_of_qs, 1.0 / ratio_of_qs])

    def level_db(f: Array) -> Array:
        both = (1 + 1j * detuning(f, F0_HZ * (1 - off), q[0])) * (1 + 1j * detuning(f, F0_HZ * (1 + off), q[1]))
        return np.asarray(-20 * np.log10(np.abs(both + coupling**2)))

    return measured_perfectly(level_db)


def flat_top(poles: int, ripple_db: float = 0.0) -> Truth:
    """A filter of so many resonators, maximally flat or with equal ripples."""

    def level_db(f: Array) -> Array:
        a = detuning(f)
        if ripple_db == 0.0:
            return np.asarray(-10 * np.log10(1 + a ** (2 * poles)))
        polynomial = np.polynomial.Chebyshev.basis(poles)(a)
        return np.asarray(-10 * np.log10(1 + (10 ** (ripple_db / 10) - 1) * polynomial**2))

    return measured_perfectly(level_db)


@dataclass(frozen=True, slots=True)
class Sweep:
    """Where and what was read, in the order of time; both of shape (n,)."""

    frequency_hz: Array
    level_db: Array


def even_sweep(truth: Truth, noise_db: float, dice: np.random.Generator, readings: int = 81) -> Sweep:
    """Sweep upwards over four to six widths, the passband somewhere near the middle."""
    place = _span(truth, dice)
    f = np.linspace(place[0], place[1], readings)
    return Sweep(f, truth.level_db(f) + noise_db * dice.standard_normal(readings))


def chosen_readings(truth: Truth, noise_db: float, dice: np.random.Generator, readings: int = 61) -> Sweep:
    """A coarse look first, then readings to either side in turn, most of them about the edges of the passband."""
    place = _span(truth, dice)
    look = np.linspace(place[0], place[1], 17)
    count = readings - len(look)
    side = np.where(np.arange(count) % 2, 1.0, -1.0)
    away = dice.choice([0.05, 0.3, 0.5, 0.5, 0.6, 0.8], count) + 0.05 * dice.standard_normal(count)
    f = np.concatenate((look, truth.centre_hz + side * away * truth.width_hz))
    return Sweep(f, truth.level_db(f) + noise_db * dice.standard_normal(readings))


def _span(truth: Truth, dice: np.random.Generator) -> tuple[float, float]:
    middle = truth.centre_hz + dice.uniform(-0.3, 0.3) * truth.width_hz
    half = 0.5 * dice.uniform(4.0, 6.0) * truth.width_hz
    return middle - half, middle + half
