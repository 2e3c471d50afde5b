"""Walks an alignment plan on a bench: shows each step, runs its procedure, has the person decide, and notes it all.

What comes next and what is proposed is decided in `sequences.alignment`; this module
carries it out. Each note is on disk before it is shown.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Protocol

from sequences.alignment.advice import Decision, Order, decide, no_way, order_of, ways_at_hand
from sequences.alignment.drift import drift_warnings
from sequences.alignment.kept import Kept
from sequences.alignment.outcome import Phase, StepOutcome, Task, Turning
from sequences.alignment.progress import (
    Choice,
    Note,
    Progress,
    StepBegun,
    StepDecided,
    StepLeft,
    StepMeasured,
    StepRecord,
    next_phase,
    next_step,
    noted,
)
from sequences.engine.events import Asked, Event, in_words
from sequences.engine.questions import Choose
from sequences.engine.run import Clock, Limits, Person, StopFlag, run
from sequences.errors import SequenceError, Stopped
from sequences.kinds import procedure_for
from sequences.plan.content import Step, Way, WayName
from sequences.plan.order import Plan
from sequences.receiver.model import Receiver
from server.alignment.wishes import LeaveStep, StepAgain
from server.bench.file import SourceEntry
from server.bench.port import OpenBench

LEFT_BY_PERSON = "The person left it as it is."
AGAIN, LEAVE = "again", "leave"


class Screen(Protocol):
    """What shows an alignment to the person."""

    def step(self, step: Step, way: Way, order: Order, warnings: tuple[str, ...]) -> None:
        """Show a step that comes now."""

    def refused(self, step: Step, reasons: tuple[str, ...]) -> None:
        """Show why a step cannot be done."""

    def phase(self, step: Step, phase: Phase) -> None:
        """Show what a run is for."""

    def event(self, event: Event) -> None:
        """Show what a run emits."""

    def outcome(self, outcome: StepOutcome) -> None:
        """Show what a run came to."""

    def ended(self, step: Step, record: StepRecord) -> None:
        """Show how a step ended."""


class Log(Protocol):
    """What keeps an alignment. Whatever it is given is on disk when the call returns."""

    def note(self, note: Note) -> None:
        """Keep where the alignment stands."""

    def begin_run(self, step: Step, way: Way, phase: Phase) -> None:
        """Enter a run; the events from here to its last belong to it."""

    def event(self, event: Event) -> None:
        """Keep what the run that is on emits."""

    def answered(self, asked: Asked, answer: str) -> None:
        """Keep an answer with its question."""


@dataclass(frozen=True, slots=True)
class Workplace:
    """The receiver and all it is aligned with. `now_s` is the time of day in seconds since the epoch."""

    receiver: Receiver
    plan: Plan
    bench: OpenBench
    source: SourceEntry | None
    person: Person
    stop: StopFlag
    clock: Clock
    now_s: Callable[[], float]
    turning: Turning = Turning.COUNTED
    kept: Kept = field(default_factory=Kept)


class AlignmentWalk:
    """One walk through the plan, from where it stands."""

    def __init__(self, place: Workplace, log: Log, screen: Screen, progress: Progress) -> None:
        """Begin where `progress` stands."""
        self._place = place
        self._log = log
        self._screen = screen
        self.progress = progress

    def to_the_end(self) -> None:
        """Do every step that is left.

        Raises:
            Stopped: the person or a signal stopped it; what was noted until then is kept.
            ServerError: the bench or the disk failed.
        """
        while (step := next_step(self._place.plan, self.progress)) is not None:
            self.do(step)

    def do(self, step: Step, way: WayName | None = None) -> None:
        """Do one step until it has ended; `way` is how to measure it where that was chosen already."""
        try:
            if self.progress.current is None:
                self._begin(step, way)
            while self.progress.current is not None:
                self._go_on(step, self.progress.current)
        except LeaveStep:
            self._note(StepLeft(step.id, LEFT_BY_PERSON))
        record = self.progress.record(step.id)
        assert record is not None  # noqa: S101 - the loop above ends with one
        self._screen.ended(step, record)

    def _begin(self, step: Step, chosen: WayName | None) -> None:
        order = order_of(self._place.plan, self.progress, step.id)
        ways = ways_at_hand(step, self._roles())
        reasons = self._obstacles(step, order, ways)
        if reasons:
            self._note(StepLeft(step.id, " ".join(reasons), order.blocked_by))
            self._screen.refused(step, reasons)
            return
        warnings = drift_warnings(self._place.plan, self.progress, step.id, self._place.now_s())
        self._screen.step(step, ways[0], order, warnings)
        way = self._choose_way(step, ways) if chosen is None else step.way(chosen)
        if way is not ways[0]:
            self._screen.step(step, way, order, warnings)
        self._note(StepBegun(step.id, way.name))

    def _obstacles(self, step: Step, order: Order, ways: tuple[Way, ...]) -> tuple[str, ...]:
        if order.refused:
            return order.reasons
        return () if ways else (no_way(step, self._roles()),)

    def _roles(self) -> frozenset[str]:
        return frozenset(card.role for card in self._place.bench.instruments if card.state == "ready")

    def _choose_way(self, step: Step, ways: tuple[Way, ...]) -> Way:
        names = tuple(way.name.value for way in ways)
        others = " Other ways are listed too." if len(ways) > 1 else ""
        text = f"Begin '{step.title}'? Enter begins, by the way in brackets.{others}"
        while True:
            try:
                answer = self._place.person.answer(in_words(Choose("way"), text, names))
            except StepAgain:
                continue  # nothing has been measured that could be measured again
            return next(way for way in ways if way.name == answer)

    def _go_on(self, step: Step, record: StepRecord) -> None:
        phase = next_phase(record)
        if phase is None:
            self._decide(step, record)
            return
        try:
            outcome = self._run(step, record, phase)
        except StepAgain:
            self._place.kept.forget_figures()
            return
        except Stopped:
            raise
        except SequenceError as error:
            self._after_fault(step, error)
            return
        self._note(StepMeasured(outcome, self._place.now_s()))
        self._screen.outcome(outcome)

    def _run(self, step: Step, record: StepRecord, phase: Phase) -> StepOutcome:
        place = self._place
        assert record.way is not None  # noqa: S101 - a step that was begun has one
        way = step.way(record.way)
        self._screen.phase(step, phase)
        self._log.begin_run(step, way, phase)
        return run(
            procedure_for(Task(place.receiver, step, way, phase, place.turning, record.last, place.kept)),
            place.bench.bench,
            emit=self._emit,
            stop=place.stop,
            clock=place.clock,
            limits=limits_on(place.receiver, place.source),
            name=f"{place.receiver.name}: {step.title}, {phase}",
            person=place.person,
        )

    def _emit(self, event: Event) -> None:
        self._log.event(event)
        self._screen.event(event)

    def _after_fault(self, step: Step, error: SequenceError) -> None:
        """Let the person mend what failed; a lost instrument is looked for again."""
        self._place.bench.reopen_missing()
        text = f"{error} Leave '{step.title}' as it is, or try again?"
        try:
            answer = self._place.person.answer(in_words(Choose("fault"), text, (LEAVE, AGAIN)))
        except StepAgain:
            return
        if answer == LEAVE:
            self._note(StepLeft(step.id, str(error)))

    def _decide(self, step: Step, record: StepRecord) -> None:
        decision = decide(step, record)
        choice = self._ask_decision(step, decision)
        if choice is not Choice.ADJUST:
            self._place.kept.forget_figures()
        self._note(StepDecided(step.id, choice))

    def _ask_decision(self, step: Step, decision: Decision) -> Choice:
        if decision.choices == (Choice.LEAVE,):
            return Choice.LEAVE
        answers = tuple(choice.value for choice in decision.choices)
        return Choice(self._place.person.answer(in_words(Choose(f"decision {step.id}"), decision.reason, answers)))

    def _note(self, note: Note) -> None:
        self._log.note(note)
        self.progress = noted(self.progress, note)


def held_to_ceiling(receiver: Receiver, source: SourceEntry | None) -> Receiver:
    """Give the receiver with no point allowed more than the source may deliver there."""
    if source is None:
        return receiver
    most_dbm = source.ceiling_dbm - source.loss_db
    points = {
        name: point.model_copy(
            update={
                "level_dbm": min(point.level_dbm, most_dbm),
                "highest_level_dbm": min(point.highest_level_dbm, most_dbm),
            }
        )
        for name, point in receiver.source_points.items()
    }
    return receiver.model_copy(update={"source_points": points})


def limits_on(receiver: Receiver, source: SourceEntry | None) -> Limits:
    """Give what a bench allows at each point; before the leads are moved, what the most delicate point bears."""
    by_point = {name: point.highest_level_dbm for name, point in receiver.source_points.items()}
    loss_db = 0.0 if source is None else source.loss_db
    return Limits(min(by_point.values()), loss_db, highest_by_point=by_point)
