"""The leads of the bench: what the source sends, and through what it enters a receiver."""

import cmath
import re
from dataclasses import dataclass

_SOURCE_OHM = 50.0
_GRID_LEAK_OHM = 470e3
_VOLTS_AT_0_DBM = 0.2236067977
_CAPACITOR = re.compile(r"(\d+(?:\.\d+)?)\s*(p|n|u|µ|μ|micro)\s*f", re.IGNORECASE)
_CLIPPED_ON = 10.0
_TWICE_AS_FAR = 0.25
_FARADS = {"p": 1e-12, "n": 1e-9, "u": 1e-6, "µ": 1e-6, "μ": 1e-6, "micro": 1e-6}


@dataclass(frozen=True, slots=True)
class Signal:
    """What the source sends out: frequency, and the power it would give to 50 ohms; modulation depth 0 to 1."""

    frequency_hz: float
    power_dbm: float
    am_depth: float = 0.0
    am_hz: float = 400.0

    def emf_volts(self) -> float:
        """The rms voltage behind the source's 50 ohms: twice what a matched load would see."""
        return 2 * _VOLTS_AT_0_DBM * 10 ** (self.power_dbm / 20)


@dataclass(frozen=True, slots=True)
class Lead:
    """One lead: where it goes, or None, and through what, in the words of whoever connected it."""

    to: str | None = None
    through: str | None = None

    def series_farads(self) -> float | None:
        """The capacitor named in `through`, if one is named."""
        match = _CAPACITOR.search(self.through or "")
        return float(match[1]) * _FARADS[match[2].lower()] if match else None

    def grid_share(self, frequency_hz: float) -> float:
        """How much of the source's electromotive force reaches a grid through this lead."""
        capacitor = self.series_farads()
        impedance = complex(_SOURCE_OHM)
        if capacitor:
            impedance += 1 / (2j * cmath.pi * frequency_hz * capacitor)
        return abs(_GRID_LEAK_OHM / (_GRID_LEAK_OHM + impedance))

    def pull(self) -> float:
        """How strongly the lead pulls an oscillator: 1 for a pick-up laid beside the valve, 10 where it is clipped on.

        The stray capacitance of a short wire falls about with the square of its distance.
        """
        through = (self.through or "").lower()
        if self.through is not None and not any(word in through for word in ("wire", "pick", "loose")):
            return _CLIPPED_ON
        return _TWICE_AS_FAR if "twice" in through else 1.0
