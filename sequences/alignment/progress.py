"""Where an alignment stands: which steps are done and how they ended, which one is on, and what comes next.

`Progress` is frozen, and each note of what happened gives the next one. So the notes are all that has to be kept: the
same notes, taken in the same order, lead to the same place, be it after a break of a minute or of a week.
"""

import dataclasses
from dataclasses import dataclass
from enum import StrEnum

from sequences.alignment.outcome import Phase, StepOutcome, StuckAdjuster
from sequences.numerics.verdicts.verdict import Standing, Verdict
from sequences.plan.content import Step, WayName
from sequences.plan.order import Plan


class Choice(StrEnum):
    """What to do with a step that has been measured."""

    LEAVE = "leave"
    ADJUST = "adjust"
    AGAIN = "again"


class Ending(StrEnum):
    """How a step ended."""

    GOOD = "within its limits"
    OFF = "left outside its limits"
    SUSPECT = "a part is suspected"
    BLOCKED = "blocked by an earlier step"
    UNJUDGED = "measured, but not judged"
    UNMEASURED = "not measured"


@dataclass(frozen=True, slots=True)
class StepBegun:
    """A step was begun, to be measured in one of its ways."""

    step_id: str
    way: WayName


@dataclass(frozen=True, slots=True)
class StepMeasured:
    """One run of the step that is on came to its end, `at_s` seconds after the epoch.

    `run_id` is the run in the record that it came from, where it is known.
    """

    outcome: StepOutcome
    at_s: float
    run_id: int | None = None


@dataclass(frozen=True, slots=True)
class StepDecided:
    """It was decided what to do with the step that is on."""

    step_id: str
    choice: Choice


@dataclass(frozen=True, slots=True)
class StepLeft:
    """A step was left as it is, because the person said so or because it could not be done.

    `blocked_by` names the steps that must be put right before it can be done at all.
    """

    step_id: str
    reason: str
    blocked_by: tuple[str, ...] = ()


Note = StepBegun | StepMeasured | StepDecided | StepLeft


@dataclass(frozen=True, slots=True)
class Measured:
    """The outcome of one run, when it ended, in seconds since the epoch, and which run of the record it was."""

    outcome: StepOutcome
    at_s: float
    run_id: int | None = None


@dataclass(frozen=True, slots=True)
class StepRecord:
    """What happened in one step so far. `reason` says why it was left where no measurement says so.

    `blocked_by` names the steps that kept it from being done, `repeated` counts how often it was measured again.
    """

    step_id: str
    way: WayName | None = None
    measured: tuple[Measured, ...] = ()
    choice: Choice | None = None
    reason: str | None = None
    blocked_by: tuple[str, ...] = ()
    repeated: int = 0

    @property
    def last(self) -> StepOutcome | None:
        """Give the outcome of the latest run."""
        return self.measured[-1].outcome if self.measured else None

    @property
    def judged(self) -> StepOutcome | None:
        """Give the outcome that tells how the step stands now: the latest one with a verdict.

        What was found before the adjusters were turned no longer counts. Where adjusting ended in suspecting a part,
        the suspicion stands unless the same figure was found good afterwards.
        """
        if self.choice is Choice.ADJUST:
            return None  # adjusting was broken off, and nobody knows where
        outcomes = self.since_adjusting()
        latest = next((one for one in reversed(outcomes) if one.verdict is not None), None)
        suspicion = next((one for one in outcomes if one.verdict is Verdict.SUSPECT), None)
        if latest is None or suspicion is None:
            return latest
        return latest if _is_good(latest) and _suspected(suspicion) <= _judged_names(latest) else suspicion

    def since_adjusting(self) -> list[StepOutcome]:
        """Give the outcomes that still hold: of the last round of adjusting and after it."""
        outcomes = [each.outcome for each in self.measured]
        rounds = [place for place, one in enumerate(outcomes) if one.phase is Phase.ADJUST]
        return outcomes[rounds[-1] if rounds else 0 :]

    @property
    def adjusted(self) -> bool:
        """Tell whether anything was turned, or may have been before adjusting was broken off."""
        return self.choice is Choice.ADJUST or any(each.outcome.turned for each in self.measured)

    @property
    def adjustments(self) -> int:
        """Count the rounds of adjusting."""
        return sum(each.outcome.phase is Phase.ADJUST for each in self.measured)

    @property
    def ending(self) -> Ending:
        """Tell how the step stands."""
        if not self.measured:
            return Ending.BLOCKED if self.blocked_by else Ending.UNMEASURED
        outcome = self.judged
        if outcome is None:
            return Ending.UNJUDGED
        if outcome.verdict is Verdict.SUSPECT:
            return Ending.SUSPECT
        return Ending.GOOD if _is_good(outcome) else Ending.OFF


def _suspected(outcome: StepOutcome) -> set[str]:
    """Name the figures that point to a part."""
    judged = [(one.name, one.judged) for one in outcome.findings]
    return {name for name, each in judged if each is not None and each.verdict is Verdict.SUSPECT}


def _judged_names(outcome: StepOutcome) -> set[str]:
    return {one.name for one in outcome.findings if one.judged is not None}


def _is_good(outcome: StepOutcome) -> bool:
    """Good is what is best left alone, and what is too close to call against its limit."""
    verdicts = [finding.judged for finding in outcome.findings if finding.judged is not None]
    return all(
        each.verdict is Verdict.LEAVE or (each.standing is not Standing.BEYOND and each.is_told) for each in verdicts
    )


@dataclass(frozen=True, slots=True)
class Progress:
    """An alignment so far: the records of ended steps, in the order they ended, and the step that is on."""

    receiver_id: str
    ended: tuple[StepRecord, ...] = ()
    current: StepRecord | None = None

    def record(self, step_id: str) -> StepRecord | None:
        """Give the latest record of an ended step."""
        return next((record for record in reversed(self.ended) if record.step_id == step_id), None)

    @property
    def latest(self) -> dict[str, StepRecord]:
        """Give the latest record of each ended step."""
        return {record.step_id: record for record in self.ended}

    def stuck(self, step_id: str) -> tuple[StuckAdjuster, ...]:
        """Give the adjusters of a step that could not be turned the last time, be the figures as good as they may."""
        records = (*self.ended, *(() if self.current is None else (self.current,)))
        fast: dict[str, StuckAdjuster] = {}
        for outcome in (each.outcome for one in records if one.step_id == step_id for each in one.measured):
            for turned in outcome.turned:
                fast.pop(turned.adjuster, None)
            fast |= {each.adjuster: each for each in outcome.stuck}
        return tuple(fast.values())

    def within_limits(self) -> frozenset[str]:
        """Name the steps that ended within their limits."""
        return frozenset(name for name, record in self.latest.items() if record.ending is Ending.GOOD)


def noted(progress: Progress, note: Note) -> Progress:
    """Give the progress after one more note.

    Raises:
        ValueError: the note does not belong to the step that is on; the sentence says which.
    """
    if isinstance(note, StepBegun):
        return dataclasses.replace(progress, current=StepRecord(note.step_id, note.way))
    if isinstance(note, StepLeft):
        left = _on(progress, note.step_id)
        return _ended(progress, dataclasses.replace(left, reason=note.reason, blocked_by=note.blocked_by))
    if isinstance(note, StepMeasured):
        record = _begun(progress, note.outcome.step_id)
        measured = (*record.measured, Measured(note.outcome, note.at_s, note.run_id))
        return dataclasses.replace(progress, current=dataclasses.replace(record, measured=measured, choice=None))
    record = _begun(progress, note.step_id)
    if note.choice is Choice.LEAVE:
        return _ended(progress, record)
    again = note.choice is Choice.AGAIN
    kept = () if again and not record.adjustments else record.measured
    record = dataclasses.replace(record, measured=kept, choice=note.choice, repeated=record.repeated + again)
    return dataclasses.replace(progress, current=record)


def _on(progress: Progress, step_id: str) -> StepRecord:
    current = progress.current
    return current if current is not None and current.step_id == step_id else StepRecord(step_id)


def _begun(progress: Progress, step_id: str) -> StepRecord:
    current = progress.current
    if current is None or current.step_id != step_id:
        raise ValueError(f"The step '{step_id}' was not begun, so nothing can be noted of it.")
    return current


def _ended(progress: Progress, record: StepRecord) -> Progress:
    return dataclasses.replace(progress, ended=(*progress.ended, record), current=None)


def next_phase(record: StepRecord) -> Phase | None:
    """Say what the step that is on needs to be run for; None where it is to be decided first."""
    last = record.last
    if record.choice is Choice.ADJUST:
        return Phase.ADJUST
    if last is None:
        return Phase.AS_FOUND
    if record.choice is Choice.AGAIN or last.phase is Phase.ADJUST:
        return Phase.AS_LEFT
    return None


def next_step(plan: Plan, progress: Progress) -> Step | None:
    """Give the step that comes next in order: the one that is on, or the first that is not done or no longer counts."""
    if progress.current is not None:
        return plan.step(progress.current.step_id)
    return next((step for step in plan.steps if not _counts(plan, progress, step)), None)


MOST_TIMES = 4
"""A step that was done so often is not done over once more: steps that keep undoing each other must end some time."""


def _counts(plan: Plan, progress: Progress, step: Step) -> bool:
    times = sum(record.step_id == step.id for record in progress.ended)
    if times == 0 or times >= MOST_TIMES:
        return times > 0
    return not undone_by(plan, progress, step.id) and not _is_free_again(progress, step.id)


def _is_free_again(progress: Progress, step_id: str) -> bool:
    """Tell whether what blocked a step has been put right."""
    record = progress.record(step_id)
    if record is None or record.ending is not Ending.BLOCKED:
        return False
    return progress.within_limits().issuperset(record.blocked_by)


def undone_by(plan: Plan, progress: Progress, step_id: str) -> tuple[Step, ...]:
    """List the steps adjusted after this one was measured that it rests on, or that turned what moves its figures."""
    places = {record.step_id: place for place, record in enumerate(progress.ended)}
    if step_id not in places:
        return ()
    step = plan.step(step_id)
    later = [record for record in progress.ended[places[step_id] + 1 :] if record.adjusted]
    others = {record.step_id for record in later if record.step_id in step.depends_on}
    others |= {record.step_id for record in later if _turned(plan, record) & set(step.moved_by)}
    return tuple(other for other in plan.steps if other.id in others)


def _turned(plan: Plan, record: StepRecord) -> set[str]:
    """Name what a step turned, or may have turned before adjusting was broken off."""
    if record.choice is Choice.ADJUST:
        return {adjuster.name for adjuster in plan.step(record.step_id).adjusters if not adjuster.measure_only}
    return {turned.adjuster for each in record.measured for turned in each.outcome.turned}
