"""What a step of the plan comes to: its figures with their verdicts, what was turned, and what to say about it."""

from dataclasses import dataclass, field
from enum import StrEnum

from sequences.alignment.kept import Kept
from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.verdict import Judged, Verdict
from sequences.plan.content import Step, Way
from sequences.quantities import Quantity
from sequences.receiver.model import Receiver


class Phase(StrEnum):
    """What a run of a step is for. As found and as left measure only; adjust turns until the figure is good."""

    AS_FOUND = "as found"
    ADJUST = "adjust"
    AS_LEFT = "as left"


class Turning(StrEnum):
    """How adjusters are turned: by counted turns and a reading after each, or live, with an eye on the reading."""

    COUNTED = "counted"
    LIVE = "live"


@dataclass(frozen=True, slots=True)
class Task:
    """One run of one step: what a procedure is given.

    `before` is what the run before came to, where the same step was measured in the same way: it may save a person
    from being asked the same again, and is never a figure of this run. `kept` is what runs of this walk left.
    """

    receiver: Receiver
    step: Step
    way: Way
    phase: Phase
    turning: Turning = Turning.COUNTED
    before: "StepOutcome | None" = None
    kept: Kept = field(default_factory=Kept, compare=False)


@dataclass(frozen=True, slots=True)
class Finding:
    """One figure of a step. `where` is the band, mark or end it was taken at, empty where there is only one.

    `mark` is that place as a mark of the dial in kHz, where it is one. `figure` is in the quantity's unit; it is None
    where it could not be measured, and `reason` then says why. `judged` is None where the step sets no limit for it.
    `when` says of a figure of an adjusting run whether it is as found, before anything was turned, or as left; None
    stands for the run's own phase, and in an adjusting run for its end.
    """

    quantity: Quantity
    where: str
    figure: Estimate | None
    judged: Judged | None = None
    reason: str | None = None
    when: Phase | None = None
    mark: float | None = None

    @property
    def name(self) -> str:
        """Give the quantity's name."""
        return self.quantity.name

    @property
    def unit(self) -> str:
        """Give the unit of the figure."""
        return self.quantity.unit


@dataclass(frozen=True, slots=True)
class Turned:
    """How far an adjuster was turned in all, clockwise positive; in the unit of its scale for a pointer or knob.

    `turns` is None where it was turned by the meter and nobody counted.
    """

    adjuster: str
    turns: float | None


class Stuck(StrEnum):
    """Why an adjuster could not be brought to where it belongs."""

    SEIZED = "seized"
    END_OF_TRAVEL = "at the end of its travel"


@dataclass(frozen=True, slots=True)
class StuckAdjuster:
    """An adjuster that was to be turned and could not be, or no further. It is told whatever the figures came to."""

    adjuster: str
    how: Stuck


SEVERITY = (Verdict.LEAVE, Verdict.MEASURE_AGAIN, Verdict.TOUCH_UP, Verdict.ADJUST, Verdict.SUSPECT)


@dataclass(frozen=True, slots=True)
class StepOutcome:
    """What one run of a step came to. `advice` are sentences on what to do, `doubts` on what not to believe."""

    step_id: str
    phase: Phase
    findings: tuple[Finding, ...]
    turned: tuple[Turned, ...] = ()
    advice: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()
    stuck: tuple[StuckAdjuster, ...] = ()

    @property
    def verdict(self) -> Verdict | None:
        """The gravest verdict of all findings; None where nothing could be judged."""
        verdicts = [finding.judged.verdict for finding in self.findings if finding.judged is not None]
        return max(verdicts, key=SEVERITY.index, default=None)
