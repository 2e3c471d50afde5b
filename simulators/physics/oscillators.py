"""Oscillators: coil and capacitor, and crystal; with warm-up drift and the pull of whatever is laid beside them."""

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class WarmUp:
    """How far an oscillator is from its warm frequency after so long: parts per million, fading as its metal warms."""

    cold_ppm: float
    time_constant_s: float

    def ppm(self, on_for_s: float) -> float:
        """Parts per million away from warm, at `on_for_s` after switching on."""
        return self.cold_ppm * math.exp(-on_for_s / self.time_constant_s)


def coil_oscillator_hz(inductance_h: float, capacitance_f: float, shift_ppm: float) -> float:
    """Where a coil and a capacitor oscillate, shifted by warm-up and pick-up."""
    return (1 + shift_ppm * 1e-6) / (2 * math.pi * math.sqrt(inductance_h * capacitance_f))


@dataclass(frozen=True, slots=True)
class Crystal:
    """A crystal with a tuned circuit in the anode, which must look inductive to it: tuned above it, never below.

    The loop gain is `vigour` where the circuit's reactance is greatest, falls on either side, and the oscillation
    stops where it is less than one: slowly on the far side of the peak, abruptly on the near one. The circuit also
    pulls the crystal a little.
    """

    frequency_hz: float
    vigour: float
    circuit_quality: float
    pull_ppm: float

    def _offset(self, circuit_hz: float) -> float:
        """The circuit's detuning from the crystal in half-widths."""
        return 2 * self.circuit_quality * (circuit_hz / self.frequency_hz - 1)

    def activity(self, circuit_hz: float) -> float:
        """How hard it oscillates, from 0 (stopped) towards 1, with its circuit tuned there."""
        offset = self._offset(circuit_hz)
        gain = self.vigour * 2 * offset / (1 + offset * offset)
        return max(0.0, 1 - 1 / gain) if gain > 0 else 0.0

    def running_hz(self, circuit_hz: float, shift_ppm: float) -> float | None:
        """Where it oscillates, or None where it has stopped."""
        if self.activity(circuit_hz) <= 0.0:
            return None
        pull_ppm = self.pull_ppm * math.atan(self._offset(circuit_hz) - 1)
        return self.frequency_hz * (1 + (pull_ppm + shift_ppm) * 1e-6)

    def best_circuit_hz(self) -> float:
        """Where the circuit must be tuned for the greatest activity."""
        return self.frequency_hz * (1 + 1 / (2 * self.circuit_quality))
