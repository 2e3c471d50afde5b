"""Read levels by constant output: the source is moved until the meter stands at one voltage.

The level is minus the power that took, whatever the detector's law, and AGC never sees a stronger signal: the way to
read levels while an adjuster changes the gain by tens of decibels.
"""

from collections.abc import Generator
from dataclasses import dataclass, field
from typing import Any

from sequences.engine.events import LevelTaken
from sequences.engine.requests import Request
from sequences.engine.steps import read_meter, set_frequency, set_power, settle, tell
from sequences.errors import SequenceError
from sequences.numerics.figures import Estimate
from sequences.numerics.levels.constant_output import (
    OutputGoal,
    OutputHeld,
    OutputOutOfReach,
    OutputTrial,
    TryPower,
    next_power,
)
from sequences.procedures.sweeps.source_level import SourceLevel

TOLERANCE_DB = 0.05
LOWEST_DBM = -130.0
BUDGET = 16
QUIETER_DB = 10.0


@dataclass(slots=True)
class HeldOutput:
    """One hookup's constant output. `power_dbm` remembers what the last level took, where the next search begins."""

    level: SourceLevel
    highest_dbm: float
    settle_s: float
    power_dbm: float = field(init=False)
    _last_index: int = field(init=False, default=0)

    def __post_init__(self) -> None:
        """Begin at the level found."""
        self.power_dbm = self.level.power_dbm

    def read(self, frequency_hz: float, purpose: str) -> Generator[Request, Any, Estimate]:
        """Give the level at a frequency, in dB: minus the source's power in dBm for the constant output.

        Raises:
            SequenceError: no allowed power holds the output.
        """
        yield from set_frequency(frequency_hz)
        goal = self._goal()
        trials: list[OutputTrial] = []
        while True:
            decision = next_power(goal, trials)
            if isinstance(decision, OutputHeld):
                self.power_dbm = decision.power_dbm.value
                yield from tell(LevelTaken(self._last_index, frequency_hz, decision.level_db.value, used=True))
                return decision.level_db
            if isinstance(decision, OutputOutOfReach):
                raise SequenceError(decision.reason)
            trials.append((yield from self._try(decision, purpose)))

    def _goal(self) -> OutputGoal:
        return OutputGoal(
            target_v=self.level.volts,
            volts_sigma=self.level.volts_sigma,
            tolerance_db=TOLERANCE_DB,
            lowest_dbm=LOWEST_DBM,
            highest_dbm=self.highest_dbm,
            start_dbm=self.power_dbm,
            budget=BUDGET,
        )

    def _try(self, decision: TryPower, purpose: str) -> Generator[Request, Any, OutputTrial]:
        """Read at a power; lower where the meter overloads."""
        power_dbm = decision.power_dbm
        while power_dbm > LOWEST_DBM:
            yield from set_power(power_dbm)
            yield from settle(self.settle_s)
            reading = yield from read_meter(purpose)
            self._last_index = reading.index
            if reading.value is not None:
                return OutputTrial(power_dbm, reading.value)
            power_dbm -= QUIETER_DB
        raise SequenceError("The meter gave no reading at any source level; check its range and its lead.")
