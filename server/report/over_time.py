"""Counts over time: an oscillator watched while it warms up or drifts, as a run kept it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

S_PER_MINUTE = 60.0
LEAST_POINTS = 3
WATCHED = frozenset({"warm-up", "drift"})
"""What the counts of such a run are for."""


@dataclass(frozen=True, slots=True)
class Course:
    """Minutes since the first count, and Hz against it."""

    points: tuple[tuple[float, float], ...]


def course_of(run: Mapping[str, Any]) -> Course | None:
    """Give the counts of a run; None where there are too few to draw."""
    counts = [
        (row["time_s"], row["value"])
        for row in run["readings"]
        if row["role"] == "counter" and row["purpose"] in WATCHED and row["value"]
    ]
    if len(counts) < LEAST_POINTS:
        return None
    first_s, first_hz = counts[0]
    return Course(tuple(((time_s - first_s) / S_PER_MINUTE, hz - first_hz) for time_s, hz in counts))
