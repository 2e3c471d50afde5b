"""The truth about a response: its peak and its edges, found by dense numerical search on the noiseless physics."""

from collections.abc import Callable
from dataclasses import asdict, dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Response = Callable[[Floats], Floats]
"""Frequencies, shape (n,), in Hz, to magnitudes, shape (n,), on any linear scale."""

HALF_POWER = 0.5**0.5
_FINE_GRID = 4001
_DIVISIONS = 8
_PARTS = 33


@dataclass(frozen=True, slots=True)
class TrueResponse:
    """What an ideal scan would find. An edge beyond the searched range is None. `centre_hz` halves the 3 dB points."""

    peak_hz: float
    centre_hz: float | None
    lower_3db_hz: float | None
    upper_3db_hz: float | None
    width_3db_hz: float | None
    width_6db_hz: float | None
    width_60db_hz: float | None
    peak_volts: float

    def as_json(self) -> dict[str, float | None]:
        """Give the figures by name."""
        return asdict(self)


def find_response(response: Response, low_hz: float, high_hz: float, points: int = _FINE_GRID) -> TrueResponse:
    """Search a response between two frequencies for its maximum and for the outermost crossings below it."""
    grid = np.linspace(low_hz, high_hz, points)
    size = response(grid)
    peak_hz, peak = _climb(response, grid, size)
    lower, upper = _edges(response, grid, size, peak * HALF_POWER)
    both = lower is not None and upper is not None
    return TrueResponse(
        peak_hz=peak_hz,
        centre_hz=(lower + upper) / 2 if both and lower is not None and upper is not None else None,
        lower_3db_hz=lower,
        upper_3db_hz=upper,
        width_3db_hz=_width(lower, upper),
        width_6db_hz=_width(*_edges(response, grid, size, peak * 10 ** (-6 / 20))),
        width_60db_hz=_width(*_edges(response, grid, size, peak * 10 ** (-60 / 20))),
        peak_volts=peak,
    )


def _width(lower: float | None, upper: float | None) -> float | None:
    return None if lower is None or upper is None else upper - lower


def _climb(response: Response, grid: Floats, size: Floats) -> tuple[float, float]:
    """Narrow the grid around its greatest value until the peak stands still."""
    for _ in range(4):
        at = int(np.argmax(size))
        grid = np.linspace(grid[max(at - 1, 0)], grid[min(at + 1, len(grid) - 1)], 101)
        size = response(grid)
    at = int(np.argmax(size))
    return float(grid[at]), float(size[at])


def _edges(response: Response, grid: Floats, size: Floats, threshold: float) -> tuple[float | None, float | None]:
    above = np.flatnonzero(size >= threshold)
    if len(above) == 0:
        return None, None
    first, last = int(above[0]), int(above[-1])
    lower = _crossing(response, grid[first - 1], grid[first], threshold) if first > 0 else None
    upper = _crossing(response, grid[last + 1], grid[last], threshold) if last < len(grid) - 1 else None
    return lower, upper


def _crossing(response: Response, below_hz: float, above_hz: float, threshold: float) -> float:
    """Divide the step between a frequency below the threshold and one above it, again and again."""
    for _ in range(_DIVISIONS):
        grid = np.linspace(below_hz, above_hz, _PARTS)
        first_above = int(np.argmax(response(grid) >= threshold))
        below_hz, above_hz = grid[max(first_above - 1, 0)], grid[first_above]
    return float((below_hz + above_hz) / 2)
