"""Where to look first, and how to close in on what the look found. Readings only: no curve is assumed here yet.

The look stands on the middles of equal cells. A peak a twentieth of the span wide (at 3 dB) has then a reading within
0.625 of its width of its middle, wherever it is: a single circuit shows there at most 4.1 dB down, and even the steep
eight-pole passband 16 dB down, far above anything else it is seen against.
"""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

LOOK_READINGS = 16
"""Readings of a full look over the span."""

_DOWN_AT_EDGE_DB = 3.0
_ENOUGH_INSIDE = 3
_RESPONSE_DB = 20.0
_ENOUGH_SHOWN = 8
_NARROW = 0.5 / LOOK_READINGS * 1.001
"""Of the span: a top between low readings as near as this is narrower than looked for, or a pop: read it again."""


def look_frequencies(start_hz: float, stop_hz: float, count: int = LOOK_READINGS) -> Array:
    """Give the frequencies of the coarse look in the order in which to read them.

    Upwards over every second cell, then downwards over those left out: neighbours are then read at times whose mean is
    the same all along the span, so that a level that drifts steadily does not tilt the picture.

    Args:
        start_hz: Low end of the span.
        stop_hz: High end of the span.
        count: How many readings the look may cost.

    Returns:
        Shape (count,), in Hz.
    """
    cells = start_hz + (np.arange(count) + 0.5) * (stop_hz - start_hz) / count
    return np.concatenate([cells[0::2], cells[1::2][::-1]])


def merged(frequency_hz: Array, level_db: Array) -> tuple[Array, Array]:
    """Sort the readings by frequency, with one level for each; of two the lower, of three the middle one.

    A pop makes a low reading high more often than the other way round matters: where a top is read twice and does not
    show again it was none.
    """
    places, which = np.unique(frequency_hz, return_inverse=True)
    levels = [np.sort(level_db[which == place]) for place in range(places.size)]
    return places, np.array([each[(each.size - 1) // 2] for each in levels])


def closing_in(frequency_hz: Array, level_db: Array, start_hz: float, stop_hz: float) -> float | None:
    """Halve the wider of the two gaps in which an edge of the highest passband must lie.

    Args:
        frequency_hz: Shape (n,), where readings were taken, in any order.
        level_db: Shape (n,).
        start_hz: Low end of the span.
        stop_hz: High end of the span.

    Returns:
        The next frequency, or None when both edges are known to a fraction of the passband's own width and enough
        readings lie on the response.
    """
    if frequency_hz.size == 0:
        return None
    places, levels = merged(frequency_hz, level_db)
    inside = levels >= np.max(levels) - _DOWN_AT_EDGE_DB
    first = last = int(np.argmax(levels))
    while first > 0 and inside[first - 1]:
        first -= 1
    while last < places.size - 1 and inside[last + 1]:
        last += 1
    below = places[first - 1] if first > 0 else start_hz
    above = places[last + 1] if last < places.size - 1 else stop_hz
    gaps = (places[first] - below, above - places[last])
    seen = places[last] - places[first]
    if first == last and max(gaps) <= _NARROW * (stop_hz - start_hz) and np.sum(frequency_hz == places[first]) == 1:
        return float(places[first])
    if last - first + 1 >= _ENOUGH_INSIDE and max(gaps) <= seen / 2.0:
        return _filling_in(places, levels)
    if gaps[0] >= gaps[1]:
        return float((below + places[first]) / 2.0)
    return float((places[last] + above) / 2.0)


def _filling_in(places: Array, levels: Array) -> float | None:
    """Halve the widest gap beside a reading of the response, until there are enough of these for a curve."""
    shown = levels >= np.max(levels) - _RESPONSE_DB
    if shown.sum() >= _ENOUGH_SHOWN:
        return None
    gaps = np.where(shown[1:] | shown[:-1], np.diff(places), 0.0)
    widest = int(np.argmax(gaps))
    return float((places[widest] + places[widest + 1]) / 2.0)
