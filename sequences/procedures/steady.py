"""Read a meter until it has come to rest: behind a gain control nothing else tells how long that takes."""

import math
from collections.abc import Generator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from sequences.engine.requests import Request
from sequences.engine.steps import look_at_clock, read_meter, settle
from sequences.errors import SequenceError

Floats = NDArray[np.float64]

LEAST_READINGS = 9
AGREE = 0.01
AGREE_SIGMAS = 3.0
LEAST_S, LONGEST_S = 3.0, 90.0
MOST_READINGS = 5000
NO_TIME_S, PACE_S = 1e-3, 0.05
"""At rest is a course whose last third agrees with its middle third, within a share or their noise: that asks the same
of a slow course as of a quick one. It is watched so long at least, for noise hides the beginning of a slow one.
Readings that take no time are paced."""


@dataclass(frozen=True, slots=True)
class Course:
    """Volts against the seconds since it began, each at the middle of its reading; shape (n,).

    The last third is at rest.
    """

    time_s: Floats
    volts: Floats

    @property
    def rest_v(self) -> Floats:
        """Give the readings at rest."""
        return self.volts[-(len(self.volts) // 3) :]


def until_steady(purpose: str) -> Generator[Request, Any, Course]:
    """Read without a pause until the latest readings are at rest.

    Raises:
        SequenceError: the meter overloads, gives no number, or does not come to rest.
    """
    began_s = before_s = yield from look_at_clock()
    times: list[float] = []
    volts: list[float] = []
    while True:
        reading = yield from read_meter(purpose)
        if reading.value is None:
            raise SequenceError("The meter overloads or gives no number; check its range and its lead.")
        if reading.time_s - before_s < NO_TIME_S:
            yield from settle(PACE_S)
        times.append(0.5 * (before_s + reading.time_s) - began_s)
        volts.append(reading.value)
        before_s = yield from look_at_clock()
        watched_s = before_s - began_s
        course = Course(np.array(times), np.array(volts))
        if watched_s >= LEAST_S and len(volts) >= LEAST_READINGS and _is_at_rest(course):
            return course
        is_long = watched_s > LONGEST_S and len(volts) >= 2 * LEAST_READINGS
        if is_long or len(volts) > MOST_READINGS:
            raise SequenceError(f"The meter does not come to rest within {watched_s:.0f} s.")


def _is_at_rest(course: Course) -> bool:
    last = course.rest_v
    middle = course.volts[-2 * len(last) : -len(last)]
    apart_v = abs(float(last.mean() - middle.mean()))
    scatter_v = math.sqrt(float(last.var(ddof=1) + middle.var(ddof=1)) / len(last))
    return apart_v <= max(AGREE * abs(float(last.mean())), AGREE_SIGMAS * scatter_v)
