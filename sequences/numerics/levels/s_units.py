"""S-units: which level each mark of a signal meter stands for, and what a meter's own marks come to.

Source: IARU Region 1 Technical Recommendation R.1 (Brighton 1981, Torremolinos 1990): S9 is an available power of
-73 dBm below 30 MHz and -93 dBm above, and one S-unit is 6 dB.
"""

import re
from collections.abc import Mapping, Sequence
from itertools import pairwise

import numpy as np

from sequences.numerics.figures import Estimate

S9_DBM, S9_DBM_ABOVE, BORDER_KHZ = -73.0, -93.0, 30e3
DB_PER_UNIT = 6.0
TOP = 9
_MARK = re.compile(r"S([1-9])(?:\+(\d{1,2}))?")


def mark_db(mark: str) -> float | None:
    """Give how far a mark, `S7` or `S9+20`, lies above S9 in dB; None where it is none."""
    found = _MARK.fullmatch(mark)
    if found is None or (found[2] is not None and int(found[1]) != TOP):
        return None
    return DB_PER_UNIT * (int(found[1]) - TOP) + float(found[2] or 0.0)


def s9_dbm(signal_khz: float) -> float:
    """Give the power that S9 stands for at a frequency."""
    return S9_DBM if signal_khz < BORDER_KHZ else S9_DBM_ABOVE


def db_per_unit(levels_dbm: Mapping[str, Estimate]) -> Estimate | None:
    """Give how many dB an S-unit of this meter is: the slope of a straight line through its marks up to S9.

    None with fewer than two such marks. What the marks miss of the line counts as scatter, in its sigma.
    """
    marks = [(mark, level) for mark, level in levels_dbm.items() if (mark_db(mark) or 0.0) <= 0.0]
    if len(marks) < 2:  # noqa: PLR2004 - a slope takes two
        return None
    units = np.array([(mark_db(mark) or 0.0) / DB_PER_UNIT for mark, _ in marks])
    level = np.array([each.value for _, each in marks])
    off = units - units.mean()
    slope = float(off @ level / (off @ off))
    own = float(np.sqrt(off**2 @ np.array([each.sigma for _, each in marks]) ** 2) / (off @ off))
    left = level - level.mean() - slope * off
    freedom = len(marks) - 2
    if not freedom:
        return Estimate(slope, own)
    bent = Estimate(slope, float(np.sqrt(left @ left / freedom / (off @ off))), float(freedom)).for_few_repeats()
    return Estimate(slope, max(own, bent.sigma))


def falls_back(marks_v: Mapping[str, float]) -> tuple[str, str] | None:
    """Name two neighbouring marks between which the voltage goes against its way over all the marks; None if none."""
    known: Sequence[tuple[float, str, float]] = sorted(
        (level, mark, volts) for mark, volts in marks_v.items() if (level := mark_db(mark)) is not None
    )
    way = 1.0 if known and known[-1][2] >= known[0][2] else -1.0
    for (_, lower, lower_v), (_, upper, upper_v) in pairwise(known):
        if way * (upper_v - lower_v) <= 0.0:
            return lower, upper
    return None
