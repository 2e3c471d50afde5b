"""Where to turn an adjuster next, in search of the setting whose worst band is best, by few equal steps.

The figures may stop dead on one side (a crystal that stops), so nothing is assumed of their shape but one hill.
"""

from collections.abc import Collection, Mapping
from itertools import pairwise

FALLEN = 0.95
"""Of the best figure: a side whose last setting lies below this has been seen far enough."""

FEWEST_SETTINGS = 4


def next_setting(
    worst: Mapping[int, float], stride: int, reach: int, blocked: Collection[int] = frozenset()
) -> int | None:
    """Give the next setting to measure at, in nudges, or None where enough is known.

    Args:
        worst: The worst band's figure at each setting tried, the larger the better; the one as found is 0.
        stride: The step outward, in nudges, two or more and even.
        reach: The farthest setting either way.
        blocked: 1 and -1 for a side on which the adjuster cannot go on.

    Raises:
        ValueError: nothing was measured as found.
    """
    if 0 not in worst:
        raise ValueError("The search begins with the figures as found.")
    best = max(worst, key=lambda setting: (worst[setting], -abs(setting)))
    outward = _outward(worst, best, stride, reach, blocked)
    if outward is not None:
        return outward
    half = stride // 2
    for between in (best + half, best - half):
        if min(worst) < between < max(worst) and between not in worst:
            return between
    return _filling(worst)


def _outward(worst: Mapping[int, float], best: int, stride: int, reach: int, blocked: Collection[int]) -> int | None:
    ends = {1: max(worst), -1: min(worst)}
    open_sides = [
        side
        for side, end in ends.items()
        if side not in blocked
        and abs(end + side * stride) <= reach
        and (end == best or worst[end] >= FALLEN * worst[best])
    ]
    if not open_sides:
        return None
    # Uphill first: the side whose last setting reads better; upwards where nothing tells.
    side = max(open_sides, key=lambda each: (worst[ends[each]], each))
    return ends[side] + side * stride


def _filling(worst: Mapping[int, float]) -> int | None:
    """Halve the widest gap as long as there are too few settings for a curve."""
    if len(worst) >= FEWEST_SETTINGS:
        return None
    settings = sorted(worst)
    gaps = [(high - low, low) for low, high in pairwise(settings) if high - low > 1]
    if not gaps:
        return None
    gap, low = max(gaps)
    return low + gap // 2
