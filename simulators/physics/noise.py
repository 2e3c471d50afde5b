"""Noise: how much a resistance makes, and a seeded stream of normal numbers."""

import math

import numpy as np

_BOLTZMANN_J_PER_K = 1.380649e-23
_ROOM_K = 290.0
_STOCK = 4096


def thermal_volts(resistance_ohm: float, bandwidth_hz: float) -> float:
    """The rms open-circuit noise voltage of a resistance at 290 K (Nyquist, Phys. Rev. 32, 1928)."""
    return math.sqrt(4 * _BOLTZMANN_J_PER_K * _ROOM_K * resistance_ohm * bandwidth_hz)


class NoiseStream:
    """Standard normal numbers from a seed, handed out one at a time; drawn in stocks because one draw is slow."""

    def __init__(self, seed: int, salt: int) -> None:
        self._generator = np.random.default_rng([seed, salt])
        self._stock: list[float] = []

    def next(self) -> float:
        """Give the next number."""
        if not self._stock:
            self._stock = self._generator.standard_normal(_STOCK).tolist()
        return self._stock.pop()
