"""Read a test point's voltage on one band after another, asking only for the controls that must change."""

from collections.abc import Generator, Mapping
from typing import Any

import numpy as np

from sequences.alignment.outcome import Task
from sequences.engine.asks import set_controls
from sequences.engine.requests import Request
from sequences.engine.steps import read_meter, settle
from sequences.errors import SequenceError
from sequences.numerics.figures import Estimate
from sequences.plan.parts import Controls, tuned_to
from sequences.receiver.chain import dial_setting

READINGS = 5
ATTEMPTS = 3

METER_SHARE = 2e-4
"""What a reading may be off by, as a share of itself, though it repeats better: a bench voltmeter's own tracking
between ranges (common practice, no source)."""


class BandVoltages:
    """The meter at one test point, and the bands it is read on. The leads must be connected first."""

    def __init__(self, task: Task) -> None:
        receiver, hookup = task.receiver, task.way.hookup
        self._settle_s = receiver.meter_points[hookup.meter_to or ""].settle_s
        self._controls: Mapping[str, Controls] = {
            spot.band: tuned_to(receiver, dial_setting(receiver, spot.band, spot.dial_khz))
            for spot in task.step.spots
            if spot.band is not None and spot.dial_khz is not None
        }
        self._standing: dict[str, str | float] = dict(hookup.controls)

    @property
    def bands(self) -> tuple[str, ...]:
        """Give the bands in the order of the plan."""
        return tuple(self._controls)

    def read(self, band: str) -> Generator[Request, Any, Estimate]:
        """Switch to a band where another is on, and give the mean voltage with its one-sigma.

        Raises:
            SequenceError: the meter gives no voltage again and again.
        """
        wanted = self._controls[band]
        changed = {name: to for name, to in wanted.items() if self._standing.get(name) != to}
        yield from set_controls(changed)
        self._standing.update(changed)
        yield from settle(self._settle_s)
        volts: list[float] = []
        for _ in range(READINGS + ATTEMPTS):
            reading = yield from read_meter(f"band {band}")
            if reading.value is not None:
                volts.append(reading.value)
            if len(volts) == READINGS:
                return _mean(volts)
        raise SequenceError(f"The meter gave no voltage on band {band}: check its range and its lead.")


def _mean(volts: list[float]) -> Estimate:
    mean = float(np.mean(volts))
    scatter = float(np.std(volts, ddof=1)) / len(volts) ** 0.5
    return Estimate(mean, max(scatter, METER_SHARE * abs(mean)))
