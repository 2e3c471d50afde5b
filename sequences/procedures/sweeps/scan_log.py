"""What a scan has read so far: each reading with the level that the detector's law makes of it."""

from collections.abc import Generator, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from sequences.engine.events import LevelTaken, ReadingTaken
from sequences.engine.instruments import Mark
from sequences.engine.requests import Request
from sequences.engine.steps import tell
from sequences.errors import SequenceError
from sequences.numerics.levels.law_uncertainty import widen_by_law
from sequences.numerics.levels.level_laws import LevelLaw
from sequences.numerics.levels.rise_law import RiseLaw
from sequences.numerics.responses.passband import Curve, PassbandFit, fit_passband

OVERLOADS_REFUSED = 3
"""Overloaded readings in a row after which the scan ends: the level is too high for the meter's range."""


@dataclass(frozen=True, slots=True)
class Level:
    """One reading that became a level, at the power the scan was asked for."""

    frequency_hz: float
    level_db: float
    sigma_db: float | None
    time_s: float


@dataclass(slots=True)
class ScanLog:
    """The one mutable thing of a scan; nobody outside its procedure sees it.

    `readings` counts every meter reading, `levels` are those the fit may use.
    """

    law: LevelLaw
    nominal_power_dbm: float
    readings: int = 0
    levels: list[Level] = field(default_factory=list)
    overloads: int = 0
    silent: int = 0
    _overloads_in_a_row: int = 0

    def take(self, reading: ReadingTaken) -> Generator[Request, Any, Level | None]:
        """Enter a reading and show what level it made; None where the law could not be undone.

        Raises:
            SequenceError: the meter overloads again and again.
        """
        level = self._level(reading)
        self._count(reading, level)
        yield from tell(
            LevelTaken(
                reading_index=reading.index,
                frequency_hz=reading.frequency_hz or 0.0,
                level_db=None if level is None else level.level_db,
                used=level is not None,
            )
        )
        return level

    def start_over(self) -> None:
        """Let the fit forget what was read; the readings stay in the record and in the count."""
        self.levels.clear()

    def _level(self, reading: ReadingTaken) -> Level | None:
        if reading.value is None or reading.frequency_hz is None or reading.power_dbm is None:
            return None
        undone = self.law.to_level_db(reading.value)
        if undone.level_db is None:
            return None
        level_db = undone.level_db - (reading.power_dbm - self.nominal_power_dbm)
        return Level(reading.frequency_hz, level_db, undone.sigma_db, reading.time_s)

    def _count(self, reading: ReadingTaken, level: Level | None) -> None:
        if level is not None:
            self.levels.append(level)
        elif reading.mark is not Mark.OVERLOAD and not self._is_far_down(reading):
            self.silent += 1
        if reading.mark is not Mark.OVERLOAD:
            self._overloads_in_a_row = 0
            return
        self.overloads += 1
        self._overloads_in_a_row += 1
        if self._overloads_in_a_row >= OVERLOADS_REFUSED:
            raise SequenceError(
                f"The meter reported overload {OVERLOADS_REFUSED} times in a row at {reading.frequency_hz:g} Hz; "
                "lower the source level or give the meter a higher range."
            )

    def _is_far_down(self, reading: ReadingTaken) -> bool:
        """A learnt law reaches only so far down: a reading below it, on a skirt, is nothing to doubt."""
        return isinstance(self.law, RiseLaw) and reading.value is not None and self.law.is_too_weak(reading.value)

    def fit(self) -> PassbandFit:
        """Fit all levels so far, with the uncertainty of a learnt law in the figures."""
        return fit_levels(self.levels, self.law)

    def doubts(self) -> tuple[str, ...]:
        """Say what of the readings could not be used."""
        sentences = []
        if self.overloads:
            sentences.append(
                f"The meter reported overload at {self.overloads} of {self.readings} readings; lower the source level."
            )
        if self.silent:
            sentences.append(
                f"{self.silent} of {self.readings} readings gave no level (zero, not a number, or outside the "
                "detector's law) and were left out."
            )
        return tuple(sentences)


def fit_levels(levels: Sequence[Level], law: LevelLaw, downstream: Curve | None = None) -> PassbandFit:
    """Fit levels, with the uncertainty of a learnt law in the figures; what lies downstream is taken off first."""
    sigma_db = [level.sigma_db for level in levels]
    known = [sigma for sigma in sigma_db if sigma is not None]
    fit = fit_passband(
        np.array([level.frequency_hz for level in levels]),
        np.array([level.level_db for level in levels]),
        np.array(known) if known and len(known) == len(sigma_db) else None,
        downstream=downstream,
        time_s=np.array([level.time_s for level in levels]),
    )
    return widen_by_law(fit, law.sigma_db) if isinstance(law, RiseLaw) else fit
