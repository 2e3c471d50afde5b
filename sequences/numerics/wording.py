"""Figures as a technician reads them: rounded, with their unit, the same way in every sentence."""

import math
from collections.abc import Callable
from dataclasses import dataclass

from sequences.numerics.figures import Estimate

TRIFLE_DB = 0.1
"""Below it two decimals would say nothing."""


def heading(name: str) -> str:
    """Write a name as a heading: its first letter large, the rest as it stands, so that kHz and RF stay so."""
    return name[:1].upper() + name[1:]


@dataclass(frozen=True, slots=True)
class Wording:
    """How figures of one quantity are said: `bare` says one whose uncertainty does not matter, with its unit.

    `units` are the worth and the name of each unit, the largest first.
    """

    bare: Callable[[float], str]
    units: tuple[tuple[float, str], ...]

    def __call__(self, value: float) -> str:
        """Say a bare figure: 12.3 Hz."""
        return self.bare(value)

    def known_to(self, figure: Estimate) -> str:
        """Say a figure with half its 95 % interval: 164.32 ± 0.46 Hz.

        Both in one unit, and rounded where the second figure of the latter stands (JCGM 100:2008, 7.2.6).
        """
        if not math.isfinite(figure.sigma):
            return f"{self.bare(figure.value)}, how well is not known,"
        if figure.sigma <= 0.0:
            return self.bare(figure.value)
        size = max(abs(figure.value), figure.expanded)
        worth, unit = next((each for each in self.units if size >= each[0]), self.units[-1])
        spread = float(f"{figure.expanded / worth:.1e}")
        places = _places(spread, 2) or 0
        shown = max(places, 0)
        return f"{round(figure.value / worth, places):.{shown}f} ± {spread:.{shown}f} {unit}".rstrip()


def in_unit(unit: str, form: str = "{:.4g}") -> Wording:
    """Say figures of a quantity that has one unit only; `form` rounds a bare figure."""
    return Wording(lambda value: f"{form.format(value)} {unit}", ((1.0, unit),))


def _bare_hz(frequency_hz: float) -> str:
    size = abs(frequency_hz)
    for unit_hz, unit in ((1e6, "MHz"), (1e3, "kHz")):
        if size >= unit_hz:
            return f"{_figures(frequency_hz / unit_hz, 5)} {unit}"
    return f"{_figures(frequency_hz, 3)} Hz"


def _bare_volts(volts: float) -> str:
    size = abs(volts)
    for unit_v, unit in ((1.0, "V"), (1e-3, "mV")):
        if size >= unit_v or size == 0.0:
            return f"{_figures(volts / unit_v, 3)} {unit}"
    return f"{_figures(volts / 1e-6, 3)} uV"


def _bare_db(level_db: float) -> str:
    if abs(level_db) < TRIFLE_DB:
        return f"{_figures(level_db, 1)} dB"
    return f"{level_db:.1f} dB" if abs(level_db) >= 1.0 else f"{level_db:.2f} dB"


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


say_hz = Wording(_bare_hz, ((1e6, "MHz"), (1e3, "kHz"), (1.0, "Hz")))
"""A frequency or a difference of two to five figures: 454.99 kHz, 12.3 Hz."""

say_volts = Wording(_bare_volts, ((1.0, "V"), (1e-3, "mV"), (1e-6, "uV")))
"""A voltage to three figures: 1.23 V, -4.56 mV, 7.8 uV."""

say_db = Wording(_bare_db, ((1.0, "dB"),))
"""A level or a difference of two to a tenth of a decibel, less to a hundredth, a trifle to one figure."""

say_dbm = in_unit("dBm", "{:.1f}")
"""A power to a tenth of a decibel."""

say_percent = in_unit("%", "{:.3g}")
"""A percentage."""

say_khz = in_unit("kHz")
"""A figure that is told in kHz whatever its size, as the marks of a dial are."""
