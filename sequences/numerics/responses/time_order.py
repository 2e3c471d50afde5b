"""What the order of the readings does to them: a level that drifts, a meter that lags.

A lagging meter shows at each reading a part of the one before: V = V_true + part (V_before - V_true), in volts. A sweep
that goes one way only cannot show it, for there it merely shifts the curve along; any other order can.
"""

from dataclasses import dataclass

import numpy as np

from sequences.numerics.arrays import Array
from sequences.numerics.responses.curves import DB_PER_NEPER_OF_POWER
from sequences.numerics.responses.readings import Readings

DB_PER_NEPER = 2.0 * DB_PER_NEPER_OF_POWER
_ONE_WAY = 0.9
_FARTHEST_DB = 120.0
_FIRST_PART = 0.05


@dataclass(frozen=True, slots=True)
class Effects:
    """Which effects of time are fitted along with a curve; their parameters follow those of the curve, in this order.

    lag: the part of the reading before that each reading still shows. drift: dB gained from first to last reading.
    """

    lag: bool = False
    drift: bool = False

    def start(self) -> list[float]:
        """Where their parameters start."""
        return [_FIRST_PART] * self.lag + [0.0] * self.drift

    def apply(self, readings: Readings, level_db: Array, jacobian: Array, extra: Array) -> tuple[Array, Array]:
        """Add the effects to a level, shape (n,), and to its jacobian, shape (n, p), which grows their columns."""
        columns = [jacobian]
        place = 0
        if self.lag:
            level_db, kept, by_part = lagged(readings, level_db, float(extra[0]))
            columns = [jacobian * kept[:, None], by_part[:, None]]
            place = 1
        if self.drift:
            late = readings.time - 0.5
            level_db = level_db + extra[place] * late
            columns.append(late[:, None])
        return level_db, np.concatenate(columns, axis=1)


def lagged(readings: Readings, level_db: Array, part: float) -> tuple[Array, Array, Array]:
    """What a lagging meter shows of a true level, shape (n,).

    Returns:
        The shown level, its derivative by the true level and by the part; each of shape (n,). NaN for a part outside
        -0.5 to 0.95, which no meter has.
    """
    if not -0.5 < part < 0.95:  # noqa: PLR2004 - said above
        nothing = np.full_like(level_db, np.nan)
        return nothing, nothing, nothing
    over = np.expm1(np.clip(readings.before_db - level_db, -_FARTHEST_DB, _FARTHEST_DB) / DB_PER_NEPER)
    shown = 1.0 + part * over
    if shown.min() <= 0.0:
        nothing = np.full_like(level_db, np.nan)
        return nothing, nothing, nothing
    return level_db + DB_PER_NEPER * np.log(shown), (1.0 - part) / shown, DB_PER_NEPER * over / shown


def goes_one_way(readings: Readings) -> bool:
    """Whether nearly every step went to the same side in frequency."""
    steps = np.sign(np.diff(readings.frequency_hz[np.argsort(readings.time, kind="stable")]))
    return bool(abs(steps.mean()) > _ONE_WAY) if len(steps) else True
