"""Scans of a circuit behind a meter that lags, limits or bends, or that drifts: what is read is worked out here alone.

One loop solved as a matrix (`dirty_worlds`), a detector, a low-pass that follows the settings in time, noise.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache

import numpy as np

from sequences.engine.events import ReadingTaken
from sequences.engine.instruments import Mark
from sequences.engine.requests import ReadMeter, SetFrequency, SetOutput, SetPower, Settle
from sequences.procedures.sweeps.scan import ScanResult, ScanSettings, scan
from tests.sequences.numerics.dirty_worlds import World, single

LEVEL_DBM = -40.0
READING_S = 2e-5
UNIT_S = 1e-2
"""All times stand to one another as they would, and are so short that no scan shows a fit on the way."""

PEAK_V = 1.0


@cache
def circuit() -> World:
    """One loop at 455 kHz, Q 50."""
    return single()


@cache
def _table() -> tuple[np.ndarray, np.ndarray]:
    world = circuit()
    grid = np.linspace(world.start_hz - 2e4, world.stop_hz + 2e4, 20_001)
    level = world.level_db(grid)
    return grid, level - level.max()


@dataclass
class DirtyDesk:
    """Answers a scan's requests; `law` makes volts of a carrier whose peak is 1 V at the scan's level."""

    dice: np.random.Generator
    noise_db: float = 0.05
    lag_s: float = 0.0
    drift_of_width: float = 0.0
    swept_s: float = 10.0
    law: Callable[[float], float] = lambda volts: volts
    now_s: float = 0.0
    frequency_hz: float = 450e3
    power_dbm: float = LEVEL_DBM
    on: bool = False
    shown_v: float = 0.0
    shown_at_s: float = 0.0
    readings: int = field(default=0)

    def answer(self, request: object) -> ReadingTaken | None:
        """Carry out one request."""
        if isinstance(request, SetFrequency | SetPower | SetOutput):
            self._follow()
        if isinstance(request, SetFrequency):
            self.frequency_hz = request.frequency_hz
        elif isinstance(request, SetPower):
            self.power_dbm = request.power_dbm
        elif isinstance(request, SetOutput):
            self.on = request.on
        elif isinstance(request, Settle):
            self.now_s += request.duration_s
        elif isinstance(request, ReadMeter):
            return self._read(request.purpose)
        return None

    def _follow(self) -> None:
        kept = math.exp(-(self.now_s - self.shown_at_s) / self.lag_s) if self.lag_s else 0.0
        target = self._target()
        self.shown_v, self.shown_at_s = target + (self.shown_v - target) * kept, self.now_s

    def _target(self) -> float:
        if not self.on:
            return 0.0
        moved = self.drift_of_width * circuit().width_hz * (self.now_s / self.swept_s - 0.5)
        level_db = float(np.interp(self.frequency_hz - moved, *_table())) + self.power_dbm - LEVEL_DBM
        return self.law(PEAK_V * 10 ** (level_db / 20))

    def _read(self, purpose: str) -> ReadingTaken:
        self.now_s += READING_S
        self._follow()
        volts = self.shown_v * 10 ** (float(self.dice.normal(0.0, self.noise_db)) / 20)
        self.readings += 1
        return ReadingTaken(
            self.readings, self.now_s, "meter", purpose, volts, "V", Mark.GOOD, self.frequency_hz, self.power_dbm
        )


def scanned(desk: DirtyDesk, settle_s: float, readings: int | None = 101) -> ScanResult:
    """Scan the circuit over four widths."""
    world = circuit()
    settings = ScanSettings(world.start_hz, world.stop_hz, LEVEL_DBM, settle_s, readings=readings)
    procedure, reply = scan(settings), None
    try:
        while True:
            reply = desk.answer(procedure.send(reply))
    except StopIteration as done:
        result: ScanResult = done.value
        return result


def limited(below_db: float) -> Callable[[float], float]:
    """A stage that gives no more than so far below what the peak would be."""
    return lambda volts: min(volts, PEAK_V * 10 ** (-below_db / 20))


def between_square_and_linear(volts: float) -> float:
    """A diode about its knee."""
    knee = 0.5
    return math.sqrt(volts * volts + knee * knee) - knee


DESKS: dict[str, tuple[float, Callable[[np.random.Generator], DirtyDesk]]] = {
    "scan, clean": (0.02 * UNIT_S, DirtyDesk),
    "scan, lag 0.3 s, settle 0.3 s": (0.3 * UNIT_S, lambda dice: DirtyDesk(dice, lag_s=0.3 * UNIT_S)),
    "scan, lag 0.3 s, settle 0.6 s": (0.6 * UNIT_S, lambda dice: DirtyDesk(dice, lag_s=0.3 * UNIT_S)),
    "scan, saturated 2 dB below the top": (0.02 * UNIT_S, lambda dice: DirtyDesk(dice, law=limited(2.0))),
    "scan, saturated 0.5 dB below the top": (0.02 * UNIT_S, lambda dice: DirtyDesk(dice, law=limited(0.5))),
    "scan, diode read as linear": (0.02 * UNIT_S, lambda dice: DirtyDesk(dice, law=between_square_and_linear)),
    "scan, drift of 5 % of the width": (
        0.1 * UNIT_S,
        lambda dice: DirtyDesk(dice, drift_of_width=0.05, swept_s=10.3 * UNIT_S),
    ),
}
"""By name: how long each scan settles, and its desk."""
