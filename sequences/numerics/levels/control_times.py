"""How quickly a gain control acts: when the output has come near its steady value after a step of the input.

The time until the output stays within 3 dB of where it comes to rest, after the input has changed by 40 dB (common
practice, no source).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from sequences.numerics.figures import Estimate

Floats = NDArray[np.float64]

WITHIN_DB = 3.0


@dataclass(frozen=True, slots=True)
class TooQuick:
    """The output was near its steady value at the first reading already, so many seconds after the step."""

    within_s: float


def time_to_settle(time_s: Floats, volts: Floats) -> Estimate | TooQuick:
    """Give the seconds from the step until the output stays within 3 dB of its steady value.

    Args:
        time_s: Shape (n,), from the step to the middle of each reading.
        volts: Shape (n,), of one sign; the last quarter is at rest.

    A reading averages over as long as it takes, and the output does not move straight between two: one sigma is half
    the time from one reading to the next.
    """
    level_db = 20.0 * np.log10(np.maximum(np.abs(volts), 1e-9))
    off_db = np.abs(level_db - float(np.mean(level_db[-max(len(level_db) // 4, 1) :])))
    outside = np.flatnonzero(off_db > WITHIN_DB)
    if len(outside) == 0:
        return TooQuick(float(time_s[0]))
    last = int(outside[-1])
    if last + 1 >= len(time_s):
        return TooQuick(float(time_s[-1]))
    share = (off_db[last] - WITHIN_DB) / (off_db[last] - off_db[last + 1])
    apart_s = float(time_s[last + 1] - time_s[last])
    return Estimate(float(time_s[last]) + float(share) * apart_s, 0.5 * apart_s)
