"""What a run emits, in order. The page draws it, the terminal prints it, the record keeps it, a test reads it."""

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from sequences.engine.instruments import Mark


@dataclass(frozen=True, slots=True)
class RunStarted:
    """The first event of every run. `time_s` of all events counts from here, by the run's clock."""

    name: str


@dataclass(frozen=True, slots=True)
class SourceChanged:
    """The source now stands so. `power_dbm` is what reaches the receiver."""

    time_s: float
    frequency_hz: float | None
    power_dbm: float | None
    output_on: bool


@dataclass(frozen=True, slots=True)
class ReadingTaken:
    """One timed value from one instrument, with the source setting it was taken at."""

    index: int
    time_s: float
    role: str
    purpose: str
    value: float | None
    unit: str
    mark: Mark
    frequency_hz: float | None
    power_dbm: float | None


@dataclass(frozen=True, slots=True)
class Progress:
    """How far the run is: a share from 0 to 1, and the seconds that remain where they can be told."""

    done: float
    remaining_s: float | None
    text: str


@dataclass(frozen=True, slots=True)
class LevelTaken:
    """A reading turned into a level, the detector law undone. `used` is False where the law could not be undone."""

    reading_index: int
    frequency_hz: float
    level_db: float | None
    used: bool


@dataclass(frozen=True, slots=True)
class PartialFit:
    """The fit so far: what `server` shows over the readings while they are still coming."""

    figures: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Notice:
    """One sentence the person should see: a reply asked for again, a level lowered."""

    text: str


@dataclass(frozen=True, slots=True)
class Asked:
    """The run waits for the person."""

    action: str
    subject: str
    text: str
    answers: tuple[str, ...]
    detail: dict[str, Any] = field(default_factory=dict)


class Ending(StrEnum):
    """How a run ended."""

    COMPLETED = "completed"
    STOPPED = "stopped"
    FAILED = "failed"


@dataclass(frozen=True, slots=True)
class RunEnded:
    """The last event of every run. `output_off` is what the source itself confirmed; `text` is for the person."""

    ending: Ending
    text: str
    output_off: bool


Event = RunStarted | SourceChanged | ReadingTaken | Progress | LevelTaken | PartialFit | Notice | Asked | RunEnded
