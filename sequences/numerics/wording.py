"""Figures as a technician reads them: rounded, with their unit, the same way in every sentence."""

import math
from collections.abc import Callable

from sequences.numerics.figures import Estimate

TRIFLE_DB = 0.1
"""Below it two decimals would say nothing."""


def say_hz(frequency_hz: float) -> str:
    """Say a frequency or a difference of two to five figures: 454.99 kHz, 12.3 Hz."""
    size = abs(frequency_hz)
    for unit_hz, unit in ((1e6, "MHz"), (1e3, "kHz")):
        if size >= unit_hz:
            return f"{_figures(frequency_hz / unit_hz, 5)} {unit}"
    return f"{_figures(frequency_hz, 3)} Hz"


def say_volts(volts: float) -> str:
    """Say a voltage to three figures: 1.23 V, -4.56 mV, 7.8 uV."""
    size = abs(volts)
    for unit_v, unit in ((1.0, "V"), (1e-3, "mV")):
        if size >= unit_v or size == 0.0:
            return f"{_figures(volts / unit_v, 3)} {unit}"
    return f"{_figures(volts / 1e-6, 3)} uV"


def say_db(level_db: float) -> str:
    """Say a level or a difference of two to a tenth of a decibel, less to a hundredth, a trifle to one figure."""
    if abs(level_db) < TRIFLE_DB:
        return f"{_figures(level_db, 1)} dB"
    return f"{level_db:.1f} dB" if abs(level_db) >= 1.0 else f"{level_db:.2f} dB"


def say_dbm(power_dbm: float) -> str:
    """Say a power to a tenth of a decibel."""
    return f"{power_dbm:.1f} dBm"


def say_known_to(figure: Estimate, say: Callable[[float], str]) -> str:
    """Say a figure with its sigma: both no finer than the second figure of the sigma tells. `say` adds the unit."""
    places = _places(figure.sigma, 2)
    if places is None:
        return f"{say(figure.value)} ± {say(figure.sigma)}"
    return f"{say(round(figure.value, places))} ± {say(round(figure.sigma, places))}"


def _places(size: float, figures: int) -> int | None:
    if size <= 0.0 or not math.isfinite(size):
        return None
    return figures - 1 - math.floor(math.log10(size))


def _figures(value: float, figures: int) -> str:
    """Round to so many figures, without an exponent and without trailing noughts."""
    if value == 0.0 or not math.isfinite(value):
        return f"{value:g}"
    places = max(0, _places(abs(value), figures) or 0)
    text = f"{value:.{places}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text
