"""Read a test point's voltage on one band after another, asking only for the controls that must change."""

import math
from collections.abc import Generator, Mapping
from typing import Any

from sequences.alignment.outcome import Task
from sequences.engine.asks import choose, say_standing, set_controls
from sequences.engine.requests import Request
from sequences.engine.steps import read_meter, settle
from sequences.errors import SequenceError
from sequences.numerics.figures import Estimate, mean_of
from sequences.numerics.wording import say_volts
from sequences.plan.parts import Controls, tuned_to
from sequences.receiver.chain import dial_setting

READINGS = 5
ATTEMPTS = 3

METER_SHARE = 2e-4
"""What a reading may be off by, as a share of itself, though it repeats better: a bench voltmeter's own tracking
between ranges (common practice, no source)."""

AGAIN, WAS_SET = "measure again", "it was set"
NOTHING_V = 0.05
"""Of an oscillator's own bias, which is volts: less on every band is leakage or a lead that hangs free (common
practice, no source)."""

ALIKE_SIGMAS = 3.0
"""Two bands that read as much alike are more likely one band, whose switch was not turned, than two."""


class BandVoltages:
    """The meter at one test point, and the bands it is read on. The leads must be connected first."""

    def __init__(self, task: Task) -> None:
        receiver, hookup = task.receiver, task.way.hookup
        conversion = receiver.conversions[task.step.subject.removeprefix("conversion.")]
        self._rest_controls = conversion.activity_rest_controls
        self._rest = Estimate(0.0, 0.0)
        self._settle_s = receiver.meter_points[hookup.meter_to or ""].settle_s
        self._controls: Mapping[str, Controls] = {
            spot.band: tuned_to(receiver, dial_setting(receiver, spot.band, spot.dial_khz))
            for spot in task.step.spots
            if spot.band is not None and spot.dial_khz is not None
        }
        self._standing: dict[str, str | float] = dict(hookup.controls)
        self._from_rest = {name: hookup.controls[name] for name in self._rest_controls if name in hookup.controls}
        self._last: tuple[str, Estimate] | None = None
        self._has_run = False
        self._told_apart: set[frozenset[str]] = set()

    @property
    def bands(self) -> tuple[str, ...]:
        """Give the bands in the order of the plan."""
        return tuple(self._controls)

    @property
    def last_band(self) -> str | None:
        """Give the band that was read last."""
        return None if self._last is None else self._last[0]

    def controls(self, band: str) -> Controls:
        """Give how the controls are to stand on a band."""
        return self._controls[band]

    def stand_at(self, controls: Controls) -> None:
        """Be told how the controls stand now."""
        self._standing = dict(controls)

    @property
    def is_difference(self) -> bool:
        """Tell whether voltages are told less what the test point rests at."""
        return bool(self._rest_controls)

    def read_rest(self) -> Generator[Request, Any, Estimate]:
        """Read what the test point rests at while no crystal runs; every voltage read after is the difference to it.

        Raises:
            SequenceError: the meter gives no voltage again and again.
        """
        yield from set_controls(self._rest_controls)
        self._standing.update(self._rest_controls)
        self._rest = yield from self._settled("at rest")
        return self._rest

    def read(self, band: str) -> Generator[Request, Any, Estimate]:
        """Switch to a band where another is on, and give the mean voltage, less that at rest, with its one-sigma.

        Raises:
            SequenceError: the meter gives no voltage again and again.
        """
        wanted = {**self._from_rest, **self._controls[band]}
        changed = {name: to for name, to in wanted.items() if self._standing.get(name) != to}
        yield from set_controls(changed)
        self._standing.update(changed)
        volts = yield from self._settled(band)
        before = self._band_read_alike(band, volts) if changed else None
        if before is not None:
            volts = yield from self._look(band, before, changed, volts)
        self._last = band, volts
        self._has_run = self._has_run or abs(volts.value) >= NOTHING_V
        return volts

    def _band_read_alike(self, band: str, volts: Estimate) -> str | None:
        """Name the band before this one where it read the same; None where it did not, or was asked about already."""
        if self._last is None:
            return None
        before, read = self._last
        if frozenset({band, before}) in self._told_apart:
            return None
        if self._told_apart and not self._has_run:
            return None  # no band has read anything so far: the lead will be asked about, not each switch
        alike = abs(volts.value - read.value) <= ALIKE_SIGMAS * math.hypot(volts.sigma, read.sigma)
        return before if alike else None

    def _look(self, band: str, before: str, changed: Controls, volts: Estimate) -> Generator[Request, Any, Estimate]:
        """Ask whether the switch was turned, and read again where it was not."""
        text = f"The meter reads {say_volts(volts.value)}, the same as on band {before}. Look: {say_standing(changed)}?"
        answer = yield from choose("band", text, (AGAIN, WAS_SET))
        self._told_apart.add(frozenset({band, before}))
        return (yield from self._settled(band)) if answer == AGAIN else volts

    def _settled(self, band: str) -> Generator[Request, Any, Estimate]:
        yield from settle(self._settle_s)
        volts: list[float] = []
        for _ in range(READINGS + ATTEMPTS):
            reading = yield from read_meter(f"band {band}")
            if reading.value is not None:
                volts.append(reading.value)
            if len(volts) == READINGS:
                mean = _mean(volts)
                return Estimate(mean.value - self._rest.value, math.hypot(mean.sigma, self._rest.sigma))
        raise SequenceError(f"The meter gave no voltage on band {band}: check its range and its lead.")


def _mean(volts: list[float]) -> Estimate:
    mean = mean_of(volts).for_few_repeats()
    return Estimate(mean.value, max(mean.sigma, METER_SHARE * abs(mean.value)))
