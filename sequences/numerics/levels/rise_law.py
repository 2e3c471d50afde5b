"""A calibrated law learnt on the rise above the quiet voltage, in its logarithm.

There a linear, a square-law and a power-law detector are straight lines and an AGC line bends gently, so that few
noisy steps make a good law: smoothing has little to smooth away.
"""

import math
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import ArrayLike, NDArray

from sequences.numerics.levels.level_laws import LEAST_STEPS, CalibratedLaw, LevelReading, refuse_unsteady
from sequences.numerics.wording import say_volts

LEAST_RISE_SIGMAS = 3.0
"""A step that rises less above the quiet voltage tells nothing of the law."""


@dataclass(frozen=True, slots=True)
class RiseLaw:
    """A detector's law: levels are in dBm of the source at the frequency of the calibration.

    `quiet_v` is the voltage without a signal, `direction` +1 where a signal raises it and -1 where it lowers it,
    `log_law` the law of the logarithm of the rise. Build it with `from_steps`.
    """

    quiet_v: float
    direction: float
    log_law: CalibratedLaw

    @classmethod
    def from_steps(cls, power_dbm: ArrayLike, volts: ArrayLike, volts_sigma: ArrayLike, quiet_v: float) -> Self:
        """Build the law from the source's steps and the volts read at each.

        Args:
            power_dbm: Shape (n,), any order, in dBm.
            volts: Shape (n,), the reading at each step; rising or falling, of either sign.
            volts_sigma: One-sigma noise of a reading in volts; one value, or shape (n,).
            quiet_v: The voltage with the source off.

        Raises:
            ValueError: with a sentence for the person, where the steps do not make a law.
        """
        power, level_v = np.asarray(power_dbm, dtype=float), np.asarray(volts, dtype=float)
        sigma_v = np.broadcast_to(np.asarray(volts_sigma, dtype=float), power.shape)
        direction = 1.0 if level_v[int(np.argmax(power))] >= quiet_v else -1.0
        rise_v = direction * (level_v - quiet_v)
        order = np.argsort(power)
        refuse_unsteady(power[order], rise_v[order], sigma_v[order])
        told = rise_v > LEAST_RISE_SIGMAS * sigma_v
        if len(np.unique(power[told])) < LEAST_STEPS:
            raise ValueError(
                "Too few steps of the source rise above the meter's noise; raise the source level or check the hookup."
            )
        log_law = CalibratedLaw.from_steps(power[told], np.log(rise_v[told]), sigma_v[told] / rise_v[told])
        return cls(quiet_v, direction, log_law)

    def to_level_db(self, volts: float) -> LevelReading:
        """Turn one reading into the source power, in dBm, that would have given it."""
        if not math.isfinite(volts):
            return LevelReading(None, None, "The meter's reading is not a number.")
        rise_v = self.direction * (volts - self.quiet_v)
        lowest_v, highest_v = self._ends_v()
        if not lowest_v <= rise_v <= highest_v:
            way = "weakest" if rise_v < lowest_v else "strongest"
            return LevelReading(
                None, None, f"The meter reads {say_volts(volts)}, beyond the {way} step the law was learnt from."
            )
        return self.log_law.to_level_db(math.log(rise_v))

    def sigma_db(self, level_dbm: NDArray[np.float64]) -> NDArray[np.float64]:
        """Give the one-sigma uncertainty of the law itself at levels in dBm, shape (n,), in dB.

        It is common to all readings at one level, so that no number of them averages it away.
        """
        law = self.log_law
        slope = np.gradient(np.array(law.volts), np.array(law.power_dbm))
        sigma_db: NDArray[np.float64] = np.interp(level_dbm, law.power_dbm, np.array(law.law_sigma_v) / np.abs(slope))
        return sigma_db

    def is_too_weak(self, volts: float) -> bool:
        """Say whether a reading lies below the weakest step, as far down a skirt it must."""
        return self.direction * (volts - self.quiet_v) < self._ends_v()[0]

    def _ends_v(self) -> tuple[float, float]:
        # a hair wider, since a logarithm and back does not always return the very same number
        hair = 1e-12
        return math.exp(self.log_law.volts[0]) * (1 - hair), math.exp(self.log_law.volts[-1]) * (1 + hair)
