"""What real benches do and tidy models do not: slow noise, hum, a stage that limits, a second warm-up, bent travel.

Each has a formula of its own: slow noise is a sum of relaxations an octave apart, as traps that fill and empty make it
(A. van der Ziel, Physica 16 (1950) 359, from memory), never a filtered spectrum.
"""

import math
from dataclasses import dataclass, fields

import numpy as np

_OCTAVES = 12
_FASTEST_S = 0.05
_HUM_HZ = 100.0
_DB_PER_NEPER = 20 / math.log(10)


@dataclass(frozen=True, slots=True)
class Troubles:
    """How much of each there is; none by default.

    Attributes:
        lag_s: time constant by which what the detector shows follows at the earliest.
        ceiling_volts: peak voltage of the carrier above which the last stage gives no more.
        slow_noise_db: one sigma of a gain that wanders with a spectrum of 1/f.
        hum_db: greatest rise of the level by hum at 100 Hz.
        slow_warm_up_ppm: a second warm-up beside the receiver's own: where it begins.
        slow_warm_up_s: its time constant.
        bent_travel: by how much more a turn at the upper end of the travel moves than one in the middle, as a share.
    """

    lag_s: float = 0.0
    ceiling_volts: float = math.inf
    slow_noise_db: float = 0.0
    hum_db: float = 0.0
    slow_warm_up_ppm: float = 0.0
    slow_warm_up_s: float = 7200.0
    bent_travel: float = 0.0

    @classmethod
    def parse(cls, text: str) -> "Troubles":
        """Read `key=number,...`, or a JSON object's items joined so.

        Raises:
            ValueError: with a sentence for the person.
        """
        known = TROUBLES
        given: dict[str, float] = {}
        for part in filter(None, (one.strip() for one in text.split(","))):
            key, _, value = part.partition("=")
            if key not in known:
                raise ValueError(f"There is no trouble {key!r}; there are {', '.join(sorted(known))}.")
            try:
                given[key] = float(value)
            except ValueError:
                raise ValueError(f"The trouble {key} needs a number, not {value!r}.") from None
            if not math.isfinite(given[key]):
                raise ValueError(f"The trouble {key} needs a finite number.")
        if min((given.get(key, 1.0) for key in ("ceiling_volts", "slow_warm_up_s")), default=1.0) <= 0.0:
            raise ValueError("The troubles ceiling_volts and slow_warm_up_s must be above 0.")
        return cls(**given)

    def limited(self, peak_volts: float) -> float:
        """What the last stage makes of a carrier."""
        return min(peak_volts, self.ceiling_volts)

    def hum(self, at_s: float, averaged_s: float) -> float:
        """The factor by which hum raises a voltage that is averaged over a time beginning then."""
        if self.hum_db == 0.0:
            return 1.0
        share = math.expm1(self.hum_db / _DB_PER_NEPER)
        angle = 2 * math.pi * _HUM_HZ
        if averaged_s <= 0.0:
            return 1.0 + share * math.sin(angle * at_s)
        over = math.cos(angle * at_s) - math.cos(angle * (at_s + averaged_s))
        return 1.0 + share * over / (angle * averaged_s)

    def second_warm_up_ppm(self, on_for_s: float) -> float:
        """Parts per million that the slow part of the metal is still away from warm."""
        return self.slow_warm_up_ppm * math.pow(0.5, on_for_s / (self.slow_warm_up_s * math.log(2)))

    def part_turns(self, position_turns: float, travel_turns: float) -> float:
        """How far the part has moved for an adjuster that stands there; both from the middle of the travel."""
        return position_turns * (1.0 + 0.5 * self.bent_travel * position_turns / (travel_turns / 2))


TROUBLES = tuple(field.name for field in fields(Troubles))


class SlowNoise:
    """A gain that wanders in time, from a seed: a sum of relaxations, one an octave."""

    def __init__(self, sigma_db: float, seed: int) -> None:
        self._dice = np.random.default_rng([seed, 40])
        self._sigma_db = sigma_db / math.sqrt(_OCTAVES)
        self._times_s = _FASTEST_S * 2.0 ** np.arange(_OCTAVES)
        self._parts = self._dice.standard_normal(_OCTAVES)

    def advance(self, elapsed_s: float) -> None:
        """Let time pass."""
        if self._sigma_db and elapsed_s > 0.0:
            kept = np.exp(-elapsed_s / self._times_s)
            self._parts = kept * self._parts + np.sqrt(1 - kept**2) * self._dice.standard_normal(_OCTAVES)

    @property
    def gain(self) -> float:
        """The factor of voltage now."""
        return math.exp(self._sigma_db * float(self._parts.sum()) / _DB_PER_NEPER)
