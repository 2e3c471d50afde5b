"""Responses with known centres and widths, and a meter with noise, to try the choice of frequencies on.

The formulas stand on their own here, written from their published form, and share nothing with the curves that are
fitted. Single circuit: Terman, Radio Engineers' Handbook (1943) section 3, universal resonance curve (from memory).
Two coupled circuits of equal Q: Aiken, Proc. IRE 25 (1937) (from memory). Flat top: Butterworth, Wireless Engineer 7
(1930) (from memory). The closed forms of their 3 dB points were recomputed by hand.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sequences.numerics.search.next_reading import Finished, ScanGoal, Search, begin, choose, observe

Array = NDArray[np.float64]

_HALF_POWER = 2.0


@dataclass(frozen=True, slots=True)
class Truth:
    """A response and what a perfect measurement of it would report."""

    level_db: Callable[[float], float]
    centre_hz: float
    width_hz: float


def _detuned(centre_hz: float, width_hz: float) -> Callable[[float], float]:
    """Exact detuning, -1 and +1 at the edges: f2 - f1 = B and f1 f2 = f0^2, so their middle lies above f0."""
    resonance = float(np.sqrt(centre_hz**2 - width_hz**2 / 4.0))

    def detuning(frequency: float) -> float:
        return resonance / width_hz * (frequency / resonance - resonance / frequency)

    return detuning


def single_circuit(centre_hz: float, width_hz: float) -> Truth:
    """One tuned circuit: 1 / sqrt(1 + x^2)."""
    return cascade(centre_hz, width_hz, 1)


def cascade(centre_hz: float, width_hz: float, circuits: int) -> Truth:
    """So many equal circuits one after another: B_n = B_1 sqrt(2^(1/n) - 1)."""
    detuning = _detuned(centre_hz, width_hz)
    narrowing = _HALF_POWER ** (1.0 / circuits) - 1.0

    def level(frequency: float) -> float:
        return float(-10.0 * circuits * np.log10(1.0 + narrowing * detuning(frequency) ** 2))

    return Truth(level, centre_hz, width_hz)


def coupled_pair(centre_hz: float, width_hz: float, kq: float) -> Truth:
    """Two equal circuits: A = 2 k / sqrt((1 + k^2 - a^2)^2 + 4 a^2) with k = kQ."""
    detuning = _detuned(centre_hz, width_hz)
    edge = edge_of_pair(kq)

    def level(frequency: float) -> float:
        a = edge * detuning(frequency)
        return float(20.0 * np.log10(2.0 * kq / np.sqrt((1.0 + kq**2 - a**2) ** 2 + 4.0 * a**2)))

    return Truth(level, centre_hz, width_hz)


def edge_of_pair(kq: float) -> float:
    """Where a coupled pair is 3 dB below its maximum, in a: so many times f0/Q is its 3 dB width."""
    if kq >= 1.0:
        return float(np.sqrt(kq**2 - 1.0 + 2.0 * kq))
    return float(np.sqrt(kq**2 - 1.0 + np.sqrt(2.0 * (1.0 + kq**4))))


def flat_top(centre_hz: float, width_hz: float, poles: int) -> Truth:
    """A maximally flat passband of so many resonators: 10 log10(1 + x^2n)."""
    detuning = _detuned(centre_hz, width_hz)

    def level(frequency: float) -> float:
        return float(-10.0 * np.log10(1.0 + detuning(frequency) ** (2 * poles)))

    return Truth(level, centre_hz, width_hz)


@dataclass(frozen=True, slots=True)
class Meter:
    """Reads a response with even noise in dB, a floor, now and then a pop, and a level that drifts."""

    truth: Truth
    noise_db: float
    floor_db: float = -60.0
    pop_share: float = 0.0
    drift_db_per_reading: float = 0.0

    def read(self, frequency_hz: float, index: int, dice: np.random.Generator) -> float:
        """Take one reading; the floor adds to the response as power."""
        power = 10.0 ** (self.truth.level_db(frequency_hz) / 10.0) + 10.0 ** (self.floor_db / 10.0)
        level = 10.0 * np.log10(power) + self.drift_db_per_reading * index + self.noise_db * dice.standard_normal()
        if dice.random() < self.pop_share:
            level += 10.0 * dice.choice([-1.0, 1.0])
        return float(level)


@dataclass(frozen=True, slots=True)
class Scanned:
    """A finished scan: where it read, what, and how it ended."""

    search: Search
    frequency_hz: Array
    level_db: Array
    reason: str


def run(goal: ScanGoal, meter: Meter, seed: int, most: int = 2000) -> Scanned:
    """Let the search choose until it is finished, and fail if it never is."""
    dice = np.random.default_rng(seed)
    search = begin(goal)
    places: list[float] = []
    levels: list[float] = []
    for index in range(most):
        move = choose(search)
        if isinstance(move, Finished):
            return Scanned(search, np.array(places), np.array(levels), move.reason)
        level = meter.read(move.frequency_hz, index, dice)
        places.append(move.frequency_hz)
        levels.append(level)
        search = observe(search, move.frequency_hz, level)
    message = f"the search had not finished after {most} readings"
    raise AssertionError(message)
