"""What a step of the plan says. Screen text, terminal text and questions to the person all come from here."""

import dataclasses
from collections.abc import Iterable
from dataclasses import dataclass
from enum import StrEnum

from sequences.quantities import Quantity, Sense
from sequences.receiver.hookups import Hookup
from sequences.receiver.targets import ScanTarget


class WayName(StrEnum):
    """How a step can be measured."""

    COUNT = "count directly"
    OFFSET_BEAT = "offset beat"
    BY_EAR = "by ear"
    SWEEP = "sweep"
    EDGE_BALANCE = "edge balance"
    HUMP_BALANCE = "balance the humps"
    STEP_AND_FIT = "step and fit"
    ZERO_BEAT = "zero beat"
    PASSBAND_CENTRE = "passband centre"
    TEST_POINT = "test point"
    PROBE = "probe"
    THROUGH_RECEIVER = "through the receiver"
    EDGE_BEAT = "edge against the beat oscillator"
    WAIT = "wait"


@dataclass(frozen=True, slots=True)
class Way:
    """One way to measure a step: its hookup, what to beware of there, what is measured, and why this way."""

    name: WayName
    hookup: Hookup
    cautions: tuple[str, ...]
    measured: str
    because: str


@dataclass(frozen=True, slots=True)
class StepAdjuster:
    """An adjuster as a step sees it. `measure_only`: set in the factory, and shown so that nobody turns it.

    `bands` is empty where it works on all of them; `end` is the end of the dial it is set at; `clockwise` says whether
    turning so raises or lowers the frequency.
    """

    name: str
    kind: str
    measure_only: bool
    bands: tuple[str, ...]
    end: str | None
    nudge_turns: float
    clockwise: str


@dataclass(frozen=True, slots=True)
class Limit:
    """A quantity and its limit, the most it may be or the least. `words` say it where its own name does not."""

    quantity: Quantity
    most: float
    words: str = ""

    @property
    def figure(self) -> str:
        """Name what is limited."""
        return self.words or self.quantity.name

    @property
    def unit(self) -> str:
        """Give the limit's unit."""
        return self.quantity.unit

    def sentence(self) -> str:
        """Say it in words."""
        sense = self.quantity.sense
        held = sense.value if sense in {Sense.AT_MOST, Sense.AT_LEAST} and not self.words else "within"
        return f"{self.figure} {held} {self.most:g} {self.unit}".rstrip()


class Shown(StrEnum):
    """What a step has to show beside a table of its figures."""

    RESPONSES = "responses"
    OVER_THE_DIAL = "over the dial"
    BY_PLACE = "by place"
    OVER_TIME = "over time"


class Culprit(StrEnum):
    """What a figure outside its limit points at when nothing is left to turn, in the order the signal meets it."""

    INPUT = "the circuits before the first mixer"
    VALVES = "the valves from antenna to detector"
    FILTER = "the IF filters"
    CONTROL = "the AGC line"


@dataclass(frozen=True, slots=True)
class Spot:
    """One frequency a step looks at. `source_khz` is what the source is set to there, None where it stays off.

    `knob_mark` is where the preselector's knob should stand.
    """

    band: str | None
    dial_khz: float | None
    source_khz: float | None
    knob_mark: float | None = None


@dataclass(frozen=True, slots=True)
class Oscillator:
    """An oscillator that a step's figure rests on; `khz` is about where it runs, None where that is not known."""

    subject: str
    name: str
    khz: float | None
    crystal: bool = False


@dataclass(frozen=True, slots=True)
class Step:
    """One entry of the plan. The first way is the one to take; the others serve where it cannot be had.

    `subject` is the dotted reference to what is aligned; `nominal_khz` what it should read, where that is one figure;
    `spots` where it is looked at; `targets` the scans that show it; `places_from_detector` counts mixers and IFs.
    `moved_by` names adjusters that change its figures though another step may turn them: it is then measured again.
    `oscillators` are those whose drift is in its figures; in the warm-up, the one that is counted. `told_against` are
    the steps whose oscillator its figure means nothing without. `meaning` is for who has never opened a receiver;
    `shown` is what the step has to draw; `shows_by_turning`: how far it is off shows only while it is turned;
    `points_at`: what is to be looked at first where its figure is outside its limit.
    """

    id: str
    kind: str
    title: str
    subject: str
    places_from_detector: int
    ways: tuple[Way, ...]
    limits: tuple[Limit, ...]
    adjusters: tuple[StepAdjuster, ...] = ()
    nominal_khz: float | None = None
    spots: tuple[Spot, ...] = ()
    targets: tuple[ScanTarget, ...] = ()
    depends_on: tuple[str, ...] = ()
    moved_by: tuple[str, ...] = ()
    oscillators: tuple[Oscillator, ...] = ()
    told_against: tuple[str, ...] = ()
    meaning: str = ""
    shown: Shown | None = None
    shows_by_turning: bool = False
    points_at: Culprit | None = None

    @property
    def good(self) -> str:
        """Say what good looks like."""
        return "Good is: " + "; ".join(limit.sentence() for limit in self.limits) + "."

    @property
    def cautions(self) -> tuple[str, ...]:
        """Give every caution of every way, once."""
        return tuple(dict.fromkeys(caution for way in self.ways for caution in way.cautions))

    def way(self, name: WayName) -> Way:
        """Give one way by its name.

        Raises:
            KeyError: the step cannot be measured so.
        """
        return {way.name: way for way in self.ways}[name]

    def depending_on(self, step_ids: Iterable[str]) -> "Step":
        """Give the same step with these dependencies, each once."""
        return dataclasses.replace(self, depends_on=tuple(dict.fromkeys(step_ids)))
