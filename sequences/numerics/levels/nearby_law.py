"""The detector's law about one voltage only: by how many decibels a reading lies above or below a target.

Where the output is held at one voltage, a reading a little beside it still tells the level: the logarithm of the rise
above the quiet voltage runs nearly straight against decibels there, for a linear, a square-law and a controlled
detector alike.
"""

import math
from dataclasses import dataclass
from typing import Self

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

STEPS_DB = (-4.0, -2.0, 0.0, 2.0, 4.0)
"""How far from the target the source is stepped to learn the law."""

REACH_DB = 4.0
FREEDOM_USED = 3
CLEAR_SLOPE = 6.0
LEAST_SLOPE_PER_DB = 0.01
"""Of the rise: a detector that moves less for a decibel is held by its gain control, and tells nothing."""

_GRID_DB = np.linspace(-REACH_DB, REACH_DB, 161)


@dataclass(frozen=True, slots=True)
class NearbyLaw:
    """The law: `quiet_v` without a signal, `direction` +1 or -1, log of the rise over decibels, one reading's noise.

    `logs` stand at even steps from -REACH_DB to REACH_DB and rise steadily; `sigma_db` is of one reading at the target.
    """

    quiet_v: float
    direction: float
    logs: tuple[float, ...]
    sigma_db: float

    @classmethod
    def from_steps(cls, steps_db: Floats, volts: Floats, quiet_v: float) -> Self:
        """Learn the law from readings at known steps about the target.

        Args:
            steps_db: Shape (n,), the source's power above the target's; n of five or more, several at each step.
            volts: Shape (n,), the reading at each.
            quiet_v: The voltage with the source off.

        Raises:
            ValueError: with a sentence for the person, where the readings do not follow the source.
        """
        direction = 1.0 if float(np.mean(volts)) >= quiet_v else -1.0
        rise_v = direction * (volts - quiet_v)
        if np.any(rise_v <= 0.0) or not np.isfinite(rise_v).all():
            raise ValueError("The meter does not stand clear of its quiet voltage at every level it is to be read at.")
        design = np.vander(steps_db, FREEDOM_USED, increasing=True)
        curve, *_ = np.linalg.lstsq(design, np.log(rise_v), rcond=None)
        left = np.log(rise_v) - design @ curve
        noise = math.sqrt(float(left @ left) / (len(volts) - FREEDOM_USED))
        logs = np.vander(_GRID_DB, FREEDOM_USED, increasing=True) @ curve
        slope = float(curve[1])
        unsure = noise / math.sqrt(float(np.sum((steps_db - steps_db.mean()) ** 2)))
        if slope < max(LEAST_SLOPE_PER_DB, CLEAR_SLOPE * unsure) or np.any(np.diff(logs) <= 0.0):
            raise ValueError("The meter hardly follows the source at this level: the receiver's gain control holds it.")
        return cls(quiet_v, direction, tuple(logs.tolist()), noise / slope)

    def offset_db(self, volts: float) -> float:
        """Give how many decibels a reading lies above the target; infinite, of its sign, beyond the law's reach."""
        rise_v = self.direction * (volts - self.quiet_v)
        if rise_v <= 0.0 or math.log(rise_v) < self.logs[0]:
            return -math.inf
        if not math.isfinite(rise_v) or math.log(rise_v) > self.logs[-1]:
            return math.inf
        return float(np.interp(math.log(rise_v), self.logs, _GRID_DB))
