"""The signal's way through a receiver: tones go in at one end, every stage makes new tones of them."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from simulators.physics.networks import Floats, Network

Tones = list[tuple[float, float]]
"""Frequencies in Hz with their voltages, rms."""

CURVED_VOLTS = 0.1
"""The rms voltage at a mixer's grid that a mixer's spurious share is told for, where a product goes as the square."""

_FAINTEST = 1e-9
_LOWEST_HZ = 10.0


class Stage(Protocol):
    """One stage of the way."""

    def passes(self, tones: Tones) -> Tones:
        """Give what leaves the stage."""


@dataclass(frozen=True, slots=True)
class Circuit:
    """A tuned circuit fed by a valve: from the current `siemens` times the grid voltage to the voltage at `sense`."""

    network: Network
    siemens: float
    drive: int
    sense: int

    def gains(self, frequency_hz: Floats) -> Floats:
        """Volts out for a volt in; nothing near zero frequency, where the coils are a short circuit.

        Args:
            frequency_hz: Shape (n,).

        Returns:
            Shape (n,).
        """
        solved = np.abs(self.network.sweep_ohm(np.maximum(frequency_hz, _LOWEST_HZ), self.drive, self.sense))
        return np.where(frequency_hz < _LOWEST_HZ, 0.0, self.siemens * solved)

    def passes(self, tones: Tones) -> Tones:
        """Weigh every tone by the circuit's response."""
        frequencies = [frequency_hz for frequency_hz, _ in tones]
        weights = self.gains(np.array(frequencies)).tolist()
        return [(frequency_hz, volts * weight) for (frequency_hz, volts), weight in zip(tones, weights, strict=True)]


@dataclass(frozen=True, slots=True)
class Amplifier:
    """A stage without tuning."""

    gain: float

    def passes(self, tones: Tones) -> Tones:
        """Amplify every tone alike."""
        return [(frequency_hz, volts * self.gain) for frequency_hz, volts in tones]


@dataclass(frozen=True, slots=True)
class Mixer:
    """A mixing valve: it also amplifies straight through, and its curvature doubles tones and oscillator.

    `oscillator_hz` is None where the oscillator does not run; then nothing is converted. Sum and difference come out
    `conversion` times as strong, those of the oscillator's second harmonic `spurious` times. A tone's own second
    harmonic comes of the square of its voltage, the second term of the valve's power series (Terman, Radio Engineers'
    Handbook, 1943, section 7, from memory): `spurious` times as strong at `CURVED_VOLTS`, and in step with the tone's
    voltage more or less.
    """

    oscillator_hz: float | None
    straight: float
    conversion: float
    spurious: float

    def passes(self, tones: Tones) -> Tones:
        """Give what is amplified straight, and the sums and differences."""
        out = [(frequency_hz, volts * self.straight) for frequency_hz, volts in tones]
        if self.oscillator_hz is None:
            return out
        oscillator_hz = self.oscillator_hz
        for frequency_hz, volts in tones:
            for m, n in ((1, 1), (2, 1), (1, 2), (2, 2)):
                share = self.conversion if m == n == 1 else self.spurious * (volts / CURVED_VOLTS) ** (m - 1)
                out.append((abs(n * oscillator_hz - m * frequency_hz), volts * share))
                out.append((n * oscillator_hz + m * frequency_hz, volts * share))
        return out


def follow(tones: Tones, stages: Sequence[Stage]) -> Tones:
    """Send tones through the stages, dropping what has become too faint beside the strongest to matter."""
    for stage in stages:
        tones = stage.passes(tones)
        if len(tones) > 1:
            least = _FAINTEST * max(volts for _, volts in tones)
            tones = [tone for tone in tones if tone[1] > least]
    return tones


def strongest(tones: Tones) -> tuple[float, float]:
    """Give the strongest tone, or silence."""
    return max(tones, key=lambda tone: tone[1], default=(0.0, 0.0))


def together(tones: Tones) -> float:
    """The rms voltage of all tones."""
    return math.hypot(*(volts for _, volts in tones))
