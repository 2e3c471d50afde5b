"""What a scan has read so far: each reading with the level that the detector's law makes of it."""

from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from sequences.engine.events import LevelTaken, ReadingTaken
from sequences.engine.instruments import Mark
from sequences.engine.requests import Request
from sequences.engine.steps import tell
from sequences.errors import SequenceError
from sequences.numerics.arrays import Array
from sequences.numerics.levels.law_uncertainty import widen_by_law
from sequences.numerics.levels.level_laws import LevelLaw
from sequences.numerics.levels.reading_resolution import widen_by_resolution
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

    `readings` counts every meter reading, `levels` are those the fit may use; they are told for the nominal power of
    the source, which was `power_off_db` above it.
    """

    law: LevelLaw
    nominal_power_dbm: float
    readings: int = 0
    power_off_db: float = 0.0
    levels: list[Level] = field(default_factory=list)
    overloads: int = 0
    silent: int = 0
    resolution_db: float = 0.0
    """One sigma of what the last digit of a person's readings leaves open."""
    _overloads_in_a_row: int = 0
    _fitted: tuple[tuple[Any, ...], PassbandFit] | None = None
    """The latest fit, behind what it was made of."""

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

    def take_back(self, level: Level | None) -> None:
        """Let the fit forget the last reading, which the person took back."""
        self.readings -= 1
        if level is not None:
            self.levels.remove(level)

    def start_over(self) -> None:
        """Let the fit forget what was read; the readings stay in the record and in the count."""
        self.levels.clear()

    def leave_out_beyond(self, low_hz: float, high_hz: float) -> None:
        """Let the fit forget the readings of another response; they too stay in the record and in the count."""
        self.levels = [level for level in self.levels if low_hz <= level.frequency_hz <= high_hz]

    def _level(self, reading: ReadingTaken) -> Level | None:
        if reading.value is None or reading.frequency_hz is None or reading.power_dbm is None:
            return None
        undone = self.law.to_level_db(reading.value)
        if undone.level_db is None:
            return None
        self.power_off_db = reading.power_dbm - self.nominal_power_dbm
        level_db = undone.level_db - self.power_off_db
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
        """Fit all levels so far, with the uncertainty of a learnt law in the figures.

        The checks at the end of a sweep ask for it in turn while the source is on: the same levels are fitted once.
        """
        made_of = (tuple(self.levels), self.law, self.power_off_db, self.resolution_db)
        if self._fitted is not None and self._fitted[0] == made_of:
            return self._fitted[1]
        fit = widen_by_resolution(fit_levels(self.levels, self.law, power_off_db=self.power_off_db), self.resolution_db)
        self._fitted = made_of, fit
        return fit

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


def fit_levels(
    levels: Sequence[Level], law: LevelLaw, downstream: Curve | None = None, *, power_off_db: float = 0.0
) -> PassbandFit:
    """Fit levels, with the uncertainty of a learnt law in the figures; what lies downstream is taken off first.

    `power_off_db`: by how much the source was above the power that the levels are told for. The law was met there.
    """
    sigma_db = [level.sigma_db for level in levels]
    known = [sigma for sigma in sigma_db if sigma is not None]
    fit = fit_passband(
        np.array([level.frequency_hz for level in levels]),
        np.array([level.level_db for level in levels]),
        np.array(known) if known and len(known) == len(sigma_db) else None,
        downstream=downstream,
        time_s=np.array([level.time_s for level in levels]),
    )
    return widen_by_law(fit, law_sigma_at(law, power_off_db)) if isinstance(law, RiseLaw) else fit


def law_sigma_at(law: RiseLaw, power_off_db: float) -> Callable[[Array], Array]:
    """Give a law's one sigma in dB at levels as told, shape (n,): it was met `power_off_db` above them."""
    return lambda level_db: law.sigma_db(level_db + power_off_db)
