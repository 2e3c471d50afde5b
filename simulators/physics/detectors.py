"""What turns a carrier into a direct voltage: the diode, the meter's lag, and the noise that rides on the carrier."""

import math
from dataclasses import dataclass
from typing import Protocol

_SMALL = 1e-4


class Detector(Protocol):
    """Turns a carrier into a direct voltage."""

    def volts(self, carrier_peak_volts: float) -> float:
        """Give the direct voltage for a carrier of this peak voltage."""


@dataclass(frozen=True, slots=True)
class Diode:
    """A detector that follows the square of small carriers and the size of large ones.

    The law is v = p^2 / sqrt(p^2 + k^2): for p far below the knee k it is p^2/k, far above it p itself. The valve or
    amplifier before it gives no more than `ceiling_volts`, which may be infinite.
    """

    knee_volts: float
    ceiling_volts: float

    def volts(self, carrier_peak_volts: float) -> float:
        """Give the direct voltage for a carrier of this peak voltage."""
        if carrier_peak_volts <= 0.0:
            return 0.0
        share = carrier_peak_volts / self.ceiling_volts
        peak = self.ceiling_volts * math.tanh(share) if share > 0.0 else carrier_peak_volts
        return peak * peak / math.hypot(peak, self.knee_volts)


@dataclass(frozen=True, slots=True)
class SquareLaw:
    """A detector whose voltage is the square of the carrier's, so many volts for a carrier of one volt."""

    volts_at_one: float

    def volts(self, carrier_peak_volts: float) -> float:
        """Give the direct voltage for a carrier of this peak voltage."""
        return self.volts_at_one * carrier_peak_volts**2


def slope(detector: Detector, carrier_peak_volts: float) -> float:
    """How much a detector's voltage rises for each volt more of the carrier's peak."""
    if carrier_peak_volts <= 0.0:
        return 0.0
    step = _SMALL * carrier_peak_volts
    return (detector.volts(carrier_peak_volts + step) - detector.volts(carrier_peak_volts - step)) / (2 * step)


@dataclass(frozen=True, slots=True)
class Carrier:
    """What reaches a detector: the carrier's peak voltage, the noise's rms voltage, and the noise's bandwidth."""

    peak_volts: float
    noise_volts: float
    bandwidth_hz: float

    def scaled(self, gain: float) -> "Carrier":
        """The same carrier and noise, amplified."""
        return Carrier(self.peak_volts * gain, self.noise_volts * gain, self.bandwidth_hz)

    def mean_peak_volts(self) -> float:
        """Carrier and noise together, by power."""
        return math.hypot(self.peak_volts, math.sqrt(2.0) * self.noise_volts)

    def flutter_volts(self, lag_s: float) -> float:
        """How much the detector's voltage wanders, rms, after a lag has averaged it.

        The lag passes 1/(4 lag) of noise on either side of the carrier, of the bandwidth that arrives.
        """
        share = 1.0 if lag_s <= 0.0 else min(1.0, 1.0 / (2.0 * lag_s * self.bandwidth_hz))
        return self.noise_volts * math.sqrt(share)


def lagged(present: float, target: float, elapsed_s: float, lag_s: float) -> float:
    """Move towards a target as a resistor and a capacitor do."""
    if lag_s <= 0.0:
        return target
    return target + (present - target) * math.exp(-elapsed_s / lag_s)
