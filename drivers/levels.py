"""A source's level as its maker writes it, and as power into 50 ohm.

Formulas: P = V^2 / R; for a sine the peak-to-peak voltage is 2 sqrt 2 times the effective one. A level shown as EMF, or
for a high impedance, is twice what stands across a matched load (6.02 dB more).
"""

from __future__ import annotations

import math
from enum import StrEnum

REFERENCE_OHM = 50.0
_MILLIWATT = 1e-3
_MICROVOLT = 1e-6


class LevelUnit(StrEnum):
    """In what a source's level is written."""

    DBM = "dBm"
    DBUV = "dBuV"
    VOLTS_RMS = "Vrms"
    VOLTS_PEAK = "Vp"
    VOLTS_PEAK_TO_PEAK = "Vpp"


class Into(StrEnum):
    """Across what the level stands: a matched load, or nothing (EMF, what a high impedance sees)."""

    MATCHED = "50 ohm"
    OPEN = "open"


_PER_VOLT_RMS = {
    LevelUnit.VOLTS_RMS: 1.0,
    LevelUnit.VOLTS_PEAK: math.sqrt(2.0),
    LevelUnit.VOLTS_PEAK_TO_PEAK: 2.0 * math.sqrt(2.0),
}


def level_of(power_dbm: float, unit: LevelUnit, into: Into = Into.MATCHED) -> float:
    """Give the level that the source must be set to.

    Args:
        power_dbm: Power into a matched load of 50 ohm.
        unit: The unit of the level.
        into: Across what the source takes its level to stand.
    """
    if unit is LevelUnit.DBM:
        return power_dbm + (0.0 if into is Into.MATCHED else 20.0 * math.log10(2.0))
    volts = math.sqrt(10.0 ** (power_dbm / 10.0) * _MILLIWATT * REFERENCE_OHM)
    shown = volts if into is Into.MATCHED else 2.0 * volts
    return 20.0 * math.log10(shown / _MICROVOLT) if unit is LevelUnit.DBUV else shown * _PER_VOLT_RMS[unit]


def power_of(level: float, unit: LevelUnit, into: Into = Into.MATCHED) -> float:
    """Give the power into a matched load, in dBm, of a level that the source says it is set to.

    No voltage at all, or less, is no power: minus infinity.
    """
    if unit is LevelUnit.DBM:
        return level - (0.0 if into is Into.MATCHED else 20.0 * math.log10(2.0))
    shown = _MICROVOLT * 10.0 ** (level / 20.0) if unit is LevelUnit.DBUV else level / _PER_VOLT_RMS[unit]
    volts = shown if into is Into.MATCHED else shown / 2.0
    return 10.0 * math.log10(volts**2 / REFERENCE_OHM / _MILLIWATT) if volts > 0.0 else -math.inf
