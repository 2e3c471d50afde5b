"""What a run emits, in order. The page draws it, the terminal prints it, the record keeps it, a test reads it."""

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any

from sequences.engine.instruments import Mark
from sequences.engine.questions import Question, plain_of, question_of
from sequences.numerics.adjusters.coach import Trend, Word


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
class CurveFitted:
    """What a whole sweep came to, in the form of a partial fit; the levels since the sweep before belong to it."""

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

    @property
    def question(self) -> Question:
        """Give it by its type."""
        return question_of(self.action, self.subject, self.detail)


def in_words(question: Question, text: str, answers: tuple[str, ...]) -> Asked:
    """Put a question, given by its type, in words."""
    action, subject, detail = plain_of(question)
    return Asked(action, subject, text, answers, detail)


class GaugeKind(StrEnum):
    """What is read while an adjuster is turned."""

    EDGE_BALANCE = "edge balance"
    LEVEL = "level"
    FREQUENCY = "frequency"
    BEAT = "beat"
    ACTIVITY = "activity"
    STEP_AND_FIT = "step and fit"


class TurnWay(StrEnum):
    """Which way an adjuster is turned, seen from where the tool goes in."""

    CLOCKWISE = "clockwise"
    ANTICLOCKWISE = "anticlockwise"


@dataclass(frozen=True, slots=True)
class Guidance:
    """What a person with both hands in the chassis needs to know now. Shown, and not kept: the readings are.

    `value`, `sigma`, `target`, `within` (half the width of the good zone), `error` (value minus target), `full_scale`
    (what the needle's end stands for), `best` and `below_best` (of a peak) and `closest` (the smallest error so far,
    with its sign) are in `unit`. `of_last_move`: how far to turn, as a share of the last move. Each is None while it
    is not known; a peak has no target until it has been passed. `time_s` is entered by the engine when it is shown.
    """

    adjuster: str
    gauge: GaugeKind
    value: float | None
    sigma: float | None
    unit: str
    target: float | None
    within: float | None
    error: float | None
    full_scale: float
    best: float | None
    below_best: float | None
    trend: Trend
    word: Word
    way: TurnWay | None
    turns_left: float | None
    sentence: str
    closest: float | None = None
    of_last_move: float | None = None
    time_s: float = 0.0


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


Event = (
    RunStarted
    | SourceChanged
    | ReadingTaken
    | Progress
    | LevelTaken
    | PartialFit
    | CurveFitted
    | Notice
    | Asked
    | Guidance
    | RunEnded
)
