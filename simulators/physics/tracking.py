"""Gang tuning: one shaft turns two condensers, and the oscillator must keep its distance from the signal circuit.

Nothing is taken from a tracking formula: the oscillator's three parts are found by Newton's method from three
equations, one for each frequency at which the makers want the distance to be exact.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

_START_LOG = (math.log(110e-6), math.log(450e-12), math.log(45e-12))
_ROUNDS = 40
_NUDGE = 1e-6


@dataclass(frozen=True, slots=True)
class PaddedCircuit:
    """The oscillator's circuit: a coil, with a padder in series with the gang and the trimmer across it."""

    inductance_h: float
    padder_f: float
    trimmer_f: float

    def total_farads(self, gang_f: float) -> float:
        """What the coil sees."""
        shunt_f = gang_f + self.trimmer_f
        return self.padder_f * shunt_f / (self.padder_f + shunt_f)

    def resonance_hz(self, gang_f: float) -> float:
        """Where it resonates with the gang there."""
        return 1 / (2 * math.pi * math.sqrt(self.inductance_h * self.total_farads(gang_f)))

    def gang_farads_for(self, frequency_hz: float) -> float:
        """Where the gang must be for a resonance."""
        total_f = 1 / ((2 * math.pi * frequency_hz) ** 2 * self.inductance_h)
        return total_f * self.padder_f / (self.padder_f - total_f) - self.trimmer_f


@dataclass(frozen=True, slots=True)
class SignalCircuit:
    """The circuit before the converter: a coil, the gang, and a trimmer across it."""

    inductance_h: float
    trimmer_f: float

    def resonance_hz(self, gang_f: float) -> float:
        """Where it resonates with the gang there."""
        return 1 / (2 * math.pi * math.sqrt(self.inductance_h * (gang_f + self.trimmer_f)))

    def gang_farads_for(self, frequency_hz: float) -> float:
        """Where the gang must be for a resonance."""
        return 1 / ((2 * math.pi * frequency_hz) ** 2 * self.inductance_h) - self.trimmer_f


def design_oscillator(signal: SignalCircuit, distance_hz: float, exact_hz: Sequence[float]) -> PaddedCircuit:
    """Find the oscillator that is `distance_hz` above the signal circuit at each of three frequencies."""
    gang_f = [signal.gang_farads_for(frequency_hz) for frequency_hz in exact_hz]
    wanted_hz = np.asarray(exact_hz) + distance_hz

    def misses(logs: np.ndarray) -> np.ndarray:
        circuit = PaddedCircuit(*(float(part) for part in np.exp(logs)))
        return np.log(np.array([circuit.resonance_hz(one) for one in gang_f]) / wanted_hz)

    logs = np.array(_START_LOG)
    for _ in range(_ROUNDS):
        miss = misses(logs)
        slopes = np.column_stack([(misses(logs + _NUDGE * axis) - miss) / _NUDGE for axis in np.eye(3)])
        logs = logs - np.linalg.solve(slopes, miss)
    return PaddedCircuit(*(float(part) for part in np.exp(logs)))
