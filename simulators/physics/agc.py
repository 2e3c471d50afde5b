"""Automatic gain control: a voltage won from the detector that lowers the gain, quick to rise and slow to fall."""

import math
from collections.abc import Callable
from dataclasses import dataclass

_MOST_ROUNDS = 100
_CLOSE_VOLTS = 1e-10
_FIRST_STEP = 0.02
_STEP_GROWTH = 1.4


@dataclass(frozen=True, slots=True)
class GainControl:
    """The loop's standing law.

    Nothing happens until the detector passes `delay_volts`; each further volt of it asks for `volts_per_volt` on the
    control line, up to `ceiling_volts`. Remote-cut-off valves lose `db_per_volt` of gain at first, and by
    `softening` less for every volt more.
    """

    delay_volts: float
    volts_per_volt: float
    ceiling_volts: float
    db_per_volt: float
    softening: float

    def wanted_volts(self, detector_volts: float) -> float:
        """The control voltage this detector voltage asks for."""
        return min(self.ceiling_volts, max(0.0, (detector_volts - self.delay_volts) * self.volts_per_volt))

    def gain(self, control_volts: float) -> float:
        """What is left of the gain, as a factor of voltage."""
        lost_db = self.db_per_volt * control_volts / (1 + self.softening * control_volts)
        return 10 ** (-lost_db / 20)

    def equilibrium(self, detect: Callable[[float], float]) -> float:
        """Give the control voltage at which the loop comes to rest; `detect` gives detector volts for a gain."""
        return _root(lambda volts: self.wanted_volts(detect(self.gain(volts))) - volts, self.ceiling_volts)


@dataclass(frozen=True, slots=True)
class ControlledDetector:
    """A detector behind gain control that has come to rest: what a slow meter sees of the two together."""

    law: GainControl

    def volts(self, carrier_peak_volts: float) -> float:
        """Give the direct voltage for a carrier that would have this peak voltage without gain control."""
        control_volts = self.law.equilibrium(lambda gain: gain * carrier_peak_volts)
        return self.law.gain(control_volts) * carrier_peak_volts


@dataclass(frozen=True, slots=True)
class ControlTimes:
    """How quickly the control line charges and discharges, in seconds."""

    attack_s: float
    release_s: float


def advance_control(
    law: GainControl, times: ControlTimes, volts: float, detect: Callable[[float], float], elapsed_s: float
) -> float:
    """Let the control line move for a while under an unchanging carrier.

    Exponential steps towards what the line asks for at their end, which grow as the loop comes to rest, so that a long
    wait costs little.
    """
    rest = law.equilibrium(detect)
    time_constant_s = times.attack_s if rest > volts else times.release_s
    step_s = _FIRST_STEP * time_constant_s
    left_s = elapsed_s
    while left_s > 0.0 and not math.isclose(volts, rest, rel_tol=1e-9, abs_tol=1e-9):
        taken_s = min(step_s, left_s)
        volts = _implicit_step(law, detect, volts, taken_s / time_constant_s)
        left_s -= taken_s
        step_s *= _STEP_GROWTH
    return volts


def _implicit_step(law: GainControl, detect: Callable[[float], float], volts: float, ratio: float) -> float:
    kept = math.exp(-ratio)

    def excess(new: float) -> float:
        return kept * volts + (1 - kept) * law.wanted_volts(detect(law.gain(new))) - new

    return _root(excess, law.ceiling_volts)


def _root(falling: Callable[[float], float], high: float) -> float:
    """Find the zero of a falling function between 0 and `high`; an end where there is none.

    False position, with the weight of an end that stays put halved each time (the Illinois rule).
    """
    low, at_low, at_high = 0.0, falling(0.0), falling(high)
    if at_low <= 0.0:
        return low
    if at_high >= 0.0:
        return high
    for _ in range(_MOST_ROUNDS):
        middle = (low * at_high - high * at_low) / (at_high - at_low)
        at_middle = falling(middle)
        if abs(at_middle) < _CLOSE_VOLTS:
            return middle
        if at_middle > 0.0:
            low, at_low, at_high = middle, at_middle, at_high / 2
        else:
            high, at_high, at_low = middle, at_middle, at_low / 2
    return (low + high) / 2
