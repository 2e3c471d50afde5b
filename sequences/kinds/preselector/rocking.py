"""Rock the gang: at the low end of the dial the receiver is brought to where its ganged circuit peaks, by the padder.

What rules a ganged circuit at the low end is its coil, and that is not adjusted; but the oscillator's padder is, so
that the receiver is moved to the circuit instead. That moves the high end as well, so that low end and high end are
gone over in turns until both hold. The dial then reads as the circuit says; where that is beyond its limit at every
mark alike, the pointer is slid.
"""

from collections.abc import Generator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

from sequences.alignment.outcome import Finding, Phase, Stuck, Task
from sequences.engine.requests import Request
from sequences.kinds.dial.layout import steps as dial_steps
from sequences.kinds.preselector.preselector_view import Followed, ThroughView
from sequences.numerics.adjusters.nudging import OnPeak
from sequences.numerics.dials.dial import DialJudgement, judge_dial
from sequences.numerics.dials.dial_cure import Cure, next_cure
from sequences.numerics.dials.dial_ends import End
from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.verdict import Signs
from sequences.plan.content import Spot
from sequences.procedures.adjusting.circuit_findings import signs_of
from sequences.procedures.adjusting.one_adjuster import Peaked, peak_adjuster
from sequences.procedures.adjusting.turning import Hand
from sequences.procedures.dials.dial_ends import DialEnds, dial_ends, set_ends
from sequences.procedures.dials.dial_findings import mark_findings
from sequences.procedures.dials.dial_marks import DialReader, ErrorTable, MarkError, dial_direction
from sequences.procedures.dials.pointer import pointer_of, slide_pointer
from sequences.procedures.oscillators.frequency_gauge import Reading
from sequences.procedures.oscillators.frequency_turns import TrimEnd, trim
from sequences.procedures.sweeps.place import HZ_PER_KHZ
from sequences.receiver.model import SIGNAL

AIM_IN_WIDTHS = 0.05
"""How near the receiver is brought to the circuit's centre, in the circuit's 3 dB widths."""

LITTLE_GAIN_DB = 0.15
"""A round of rocking by level that gained no more is the last."""

SEEN_IN_WIDTHS = 0.05
"""How nearly a look tells the middle of the receiver's window, one sigma, in its widths."""

FREE_SHARE = 0.4
"""Of the dial's limit: where the circuit leaves the low end off by more, the high end is set off alike, and the
pointer then shares it out."""


@dataclass(frozen=True, slots=True)
class Gang:
    """The dial's step of a gang-tuned receiver, and both ends of the dial with their adjusters."""

    task: Task
    ends: DialEnds


@dataclass(slots=True)
class Rocked:
    """What became of rocking so far: signs of a bad part, what to say, and the dial as it stands now."""

    signs: Signs | None = None
    advice: list[str] = field(default_factory=list)
    dial: ErrorTable | None = None


def gang_of(task: Task, spots: Sequence[Spot]) -> Gang | None:
    """Give what rocking needs, with the ends where the ganged circuit is looked at; None where it cannot be done.

    Args:
        task: The ganged circuit's.
        spots: Where it is looked at on one band.
    """
    by_frequency = sorted(spots, key=_nominal_hz)
    if task.receiver.preselector.tuned_by != "gang" or len(by_frequency) < len(End):
        return None
    at = {End.LOW: by_frequency[0], End.HIGH: by_frequency[-1]}
    first = next((key for key, entry in task.receiver.conversions.items() if entry.takes == SIGNAL), "")
    for step in dial_steps(task.receiver):
        if step.subject == f"conversion.{first}":
            dial_task = Task(task.receiver, step, step.ways[0], Phase.ADJUST, task.turning)
            ends = dial_ends(dial_task, at[End.LOW].band)
            return None if ends is None else Gang(dial_task, replace(ends, spots=at))
    return None


class Rocking:
    """Rocks one receiver; `hand` keeps the account of turns with those of the circuit's own adjusters."""

    def __init__(self, gang: Gang, hand: Hand) -> None:
        self.gang, self.hand, self.rocked = gang, hand, Rocked()
        self.low, self.high = gang.ends.spots[End.LOW], gang.ends.spots[End.HIGH]
        self.low_adjuster, self.high_adjuster = gang.ends.adjusters[End.LOW], gang.ends.adjusters[End.HIGH]
        self._off_low_hz = 0.0

    def follow(self, centre: Estimate, width_hz: float) -> Generator[Request, Any, None]:
        """Bring the receiver to the circuit's centre at the low end, the high end with it; then look at the dial."""
        reader = DialReader(self.gang.task)
        yield from reader.connect()
        ends = self.gang.ends
        goal = replace(ends.goal, aim_hz=AIM_IN_WIDTHS * width_hz)
        wanted_hz = self._wanted_hz(centre.value)
        became = yield from set_ends(_Towards(reader, wanted_hz), replace(ends, goal=goal), self.hand, ())
        self._note(became.signs, became.advice)
        yield from self._look_at_dial(reader)

    def peak_low(self, view: ThroughView) -> Generator[Request, Any, Peaked]:
        """Peak the low end by the oscillator's adjuster, by level through the receiver, the source following it.

        Raises:
            SequenceError: the receiver is lost on the way.
        """
        followed = yield from view.follow(self.low)
        peaked = yield from peak_adjuster(self.low_adjuster, followed.read, self.hand)
        self._off_low_hz = followed.at_hz - _nominal_hz(self.low)
        if isinstance(peaked.result, Stuck):
            self._note(signs_of(peaked.result), None)
        return peaked

    def has_gained(self, peaked: Peaked) -> bool:
        """Tell whether peaking gained enough for the high end to be gone over again."""
        return isinstance(peaked.result, OnPeak) and peaked.result.gain_db.value > LITTLE_GAIN_DB

    def set_high(self, view: ThroughView) -> Generator[Request, Any, None]:
        """Bring the high end back to where it belongs, as nearly as looking through the receiver tells."""
        wanted_hz = self._wanted_hz(_nominal_hz(self.low) + self._off_low_hz)[self.high]
        gauge = _HighEnd((yield from view.follow(self.high)), wanted_hz, view.width_hz)
        reading = yield from gauge.read()
        end, _ = yield from trim(self.high_adjuster, gauge, reading, FREE_SHARE * self._limit_hz, self.hand)
        self._note(end.signs() if end is not TrimEnd.DONE else None, None)

    def look_at_dial(self) -> Generator[Request, Any, None]:
        """Measure the dial with its own leads, and have its pointer slid where that serves."""
        reader = DialReader(self.gang.task)
        yield from reader.connect()
        yield from self._look_at_dial(reader)

    def why(self) -> str:
        """Say what is done, and by which adjusters."""
        names = " and ".join(self.gang.ends.adjusters[end].name for end in (End.LOW, End.HIGH))
        return (
            "The circuit does not follow the receiver at the low end, where nothing of its own can be turned, so the "
            f"gang was rocked: the receiver was moved to it by {names}, low end and high end in turns."
        )

    def _note(self, signs: Signs | None, advice: str | None) -> None:
        self.rocked.signs = self.rocked.signs or signs
        if advice and advice not in self.rocked.advice:
            self.rocked.advice.append(advice)

    def _wanted_hz(self, low_hz: float) -> dict[Spot, float]:
        """Say where the receiver should be at either end."""
        off_hz = low_hz - _nominal_hz(self.low)
        common_hz = off_hz if abs(off_hz) > FREE_SHARE * self._limit_hz else 0.0
        return {self.low: low_hz, self.high: _nominal_hz(self.high) + common_hz}

    @property
    def _limit_hz(self) -> float:
        return self.gang.task.step.limits[0].most * HZ_PER_KHZ

    def _look_at_dial(self, reader: DialReader) -> Generator[Request, Any, None]:
        """Read every mark; where sliding the pointer brings them home, have it slid and read them again."""
        table = yield from reader.read_table()
        judged, pointer = self._judge(table), pointer_of(self.gang.task)
        cure = Cure.NOTHING if judged is None else next_cure(judged, self._limit_hz, {Cure.SLIDE}, ())
        if judged is not None and pointer is not None and cure is Cure.SLIDE:
            shift_khz = judged.shift_hz.value / HZ_PER_KHZ
            refused = yield from slide_pointer(self.gang.task, pointer, self.hand, shift_khz)
            self._note(None, refused)
            table = yield from reader.read_table()
        self.rocked.dial = table

    def _judge(self, table: ErrorTable) -> DialJudgement | None:
        known = [(mark.mark_khz * HZ_PER_KHZ, mark.error_hz) for mark in table.known if mark.error_hz is not None]
        if len(known) < 2:  # noqa: PLR2004 - a line takes two
            return None
        errors = [error for _, error in known]
        marks_hz = [mark_hz for mark_hz, _ in known]
        return judge_dial(marks_hz, [e.value for e in errors], [e.sigma for e in errors], self._limit_hz)

    def findings(self) -> tuple[Finding, ...]:
        """Judge the dial as rocking left it: a mark that is off now is off by what the circuit asks for."""
        table = self.rocked.dial
        return () if table is None else mark_findings(self.gang.task, table, Signs(nothing_to_turn=True))


class _Towards:
    """Reads marks as errors from where the receiver is wanted, not from what the dial says."""

    def __init__(self, reader: DialReader, wanted_hz: Mapping[Spot, float]) -> None:
        self.reader, self.wanted_hz = reader, wanted_hz

    @property
    def set_to(self) -> Spot | None:
        """Say where the dial stands."""
        return self.reader.set_to

    def read(self, spot: Spot) -> Generator[Request, Any, MarkError]:
        """Read a mark."""
        mark = yield from self.reader.read(spot)
        if mark.error_hz is None:
            return mark
        way = dial_direction(self.reader.task.step.spots, spot.band)
        wanted_error_hz = way * (self.wanted_hz[spot] - _nominal_hz(spot))
        return replace(mark, error_hz=Estimate(mark.error_hz.value - wanted_error_hz, mark.error_hz.sigma))


class _HighEnd:
    """How far the receiver is from where it is wanted at the high end, by the middle of its window."""

    def __init__(self, followed: Followed, wanted_hz: float, width_hz: float) -> None:
        self.followed, self.wanted_hz, self.width_hz = followed, wanted_hz, width_hz

    def read(self, expected_hz: Estimate | None = None) -> Generator[Request, Any, Reading]:  # noqa: ARG002 - the finder looks for itself
        seen_hz = yield from self.followed.find()
        return Reading(Estimate(seen_hz - self.wanted_hz, SEEN_IN_WIDTHS * self.width_hz))


def _nominal_hz(spot: Spot) -> float:
    return (spot.source_khz or 0.0) * HZ_PER_KHZ
