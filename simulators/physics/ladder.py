"""A crystal ladder filter, solved from the load inwards: each series crystal, each capacitor to earth."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class LadderFilter:
    """Equal crystals in series, equal capacitors to earth between them and in series at both ends; both ends loaded."""

    crystals: int = 4
    series_hz: float = 9e6
    motional_f: float = 14e-15
    motional_ohm: float = 20.0
    holder_f: float = 4e-12
    coupling_f: float = 68e-12
    load_ohm: float = 220.0

    def gain(self, frequency_hz: Floats) -> Floats:
        """Voltage at the load over half the source's, shape (n,): 1 where nothing is lost."""
        angular = 2 * np.pi * np.asarray(frequency_hz, np.float64)
        henry = 1 / ((2 * math.pi * self.series_hz) ** 2 * self.motional_f)
        arm = self.motional_ohm + 1j * angular * henry + 1 / (1j * angular * self.motional_f)
        holder = 1 / (1j * angular * self.holder_f)
        crystal = arm * holder / (arm + holder)
        capacitor = 1 / (1j * angular * self.coupling_f)
        volts = np.ones_like(angular, np.complex128)  # at the load
        current = volts / self.load_ohm
        for number in range(self.crystals):
            last = number in (0, self.crystals - 1)
            volts = volts + current * (crystal + (capacitor if last else 0.0))
            if number < self.crystals - 1:
                current = current + volts / capacitor
        found: Floats = 2 / np.abs(volts + current * self.load_ohm)
        return found
