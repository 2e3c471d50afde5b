"""A job as the record holds it, sorted by steps: what was found, what was turned, what was left, in which runs."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from functools import reduce
from typing import Any, Protocol

from sequences.alignment.advice import to_be_told
from sequences.alignment.outcome import Phase, StepOutcome, Turned
from sequences.alignment.progress import Choice, Measured, Note, Progress, StepDecided, StepMeasured, StepRecord, noted
from sequences.kinds import alignment_plan
from sequences.plan.content import Step
from sequences.plan.order import Plan
from sequences.receiver.file import ReceiverFileError, receiver_from_text
from sequences.receiver.model import Receiver
from server.errors import ReceiverListError
from server.records.notes import note_from_plain

Row = Mapping[str, Any]


class PhotoContent(Protocol):
    """A photo as the record gives it."""

    @property
    def media_type(self) -> str:
        """What kind of picture it is."""

    @property
    def content(self) -> bytes:
        """Its bytes."""


class Records(Protocol):
    """What a report reads of the record."""

    def job(self, job_id: int) -> dict[str, Any]:
        """Give all of a job but readings and photos' bytes."""

    def run(self, run_id: int) -> dict[str, Any]:
        """Give a run with readings and events."""

    def photo_content(self, photo_id: int) -> PhotoContent:
        """Give a photo."""


@dataclass(frozen=True, slots=True)
class PhotoEntry:
    """A photo, and how to have its bytes."""

    name: str
    at_utc: datetime
    content: Callable[[], PhotoContent]


@dataclass(frozen=True, slots=True)
class RemarkEntry:
    """What somebody wrote down."""

    at_utc: datetime
    text: str


@dataclass(frozen=True, slots=True)
class StepHistory:
    """All that happened in one step.

    `found` is the first measurement, before any adjuster of this step was turned; `adjusted` are the rounds of turning;
    `left` is the last measurement of all, None where there was only one. `record` is how the step stands now, None
    where it was never begun; it is `under_way` until it has ended.
    `to_be_told` is what whoever reads how it ended must know beside its figures.
    """

    step: Step
    record: StepRecord | None
    under_way: bool
    found: Measured | None
    adjusted: tuple[Measured, ...]
    left: Measured | None
    decisions: tuple[Choice, ...]
    remarks: tuple[RemarkEntry, ...]
    photos: tuple[PhotoEntry, ...]
    to_be_told: tuple[str, ...] = ()

    @property
    def outcomes(self) -> tuple[StepOutcome, ...]:
        """Give every outcome that counts, in order, each once."""
        all_measured = (self.found, *self.adjusted, self.left)
        return tuple(dict.fromkeys(each.outcome for each in all_measured if each is not None))

    @property
    def last(self) -> Measured | None:
        """Give the last measurement of all."""
        return self.left or self.found

    @property
    def turned(self) -> tuple[Turned, ...]:
        """Sum up what was turned over all rounds; turns are None where any round was not counted."""
        sums: dict[str, float | None] = {}
        for measured in self.adjusted:
            for each in measured.outcome.turned:
                before = sums.get(each.adjuster, 0.0)
                sums[each.adjuster] = None if before is None or each.turns is None else before + each.turns
        return tuple(Turned(name, turns) for name, turns in sums.items())


@dataclass(frozen=True, slots=True)
class JobHistory:
    """A whole job: the header of the record, the receiver it was done on, and its steps in the plan's order."""

    header: Row
    receiver: Receiver
    plan: Plan
    steps: tuple[StepHistory, ...]
    remarks: tuple[RemarkEntry, ...]
    photos: tuple[PhotoEntry, ...]
    last_note_utc: datetime | None
    progress: Progress

    @property
    def is_practice(self) -> bool:
        """Tell whether the receiver was a simulated one."""
        return bool(self.header["mode"] == "practice")


def read_history(records: Records, job_id: int) -> JobHistory:
    """Read a job.

    Raises:
        UnknownThing: there is no such job.
        StoreError: the record holds what this program cannot read.
        ReceiverListError: the job's own receiver file cannot be used.
    """
    job = records.job(job_id)
    receiver = _receiver_of(job)
    notes = tuple(_with_run(note_from_plain(row["kind"], row["body"]), row["run_id"]) for row in job["notes"])
    progress = reduce(noted, notes, Progress(receiver.id))
    plan = alignment_plan(receiver)
    known = {step.id for step in plan.steps}
    stamps = [row["at_utc"] for row in job["notes"]]
    return JobHistory(
        header=job,
        receiver=receiver,
        plan=plan,
        steps=tuple(
            replace(_history(step, notes, progress, job, records), to_be_told=to_be_told(plan, progress, step.id))
            for step in plan.steps
        ),
        remarks=_remarks(job, lambda step_id: step_id not in known),
        photos=_photos(job, records, lambda step_id: step_id not in known),
        last_note_utc=parse_utc(stamps[-1]) if stamps else None,
        progress=progress,
    )


def _with_run(note: Note, run_id: int | None) -> Note:
    return replace(note, run_id=run_id) if isinstance(note, StepMeasured) else note


def parse_utc(stamp: str) -> datetime:
    """Read a time of day of the record."""
    return datetime.fromisoformat(stamp)


def _receiver_of(job: Row) -> Receiver:
    try:
        return receiver_from_text(job["receiver_file"], f"the receiver file of job {job['id']}").receiver
    except ReceiverFileError as error:
        raise ReceiverListError(str(error)) from error


def _history(
    step: Step,
    notes: tuple[Note, ...],
    progress: Progress,
    job: Row,
    records: Records,
) -> StepHistory:
    blocks = [record for record in progress.ended if record.step_id == step.id]
    current = progress.current
    under_way = current is not None and current.step_id == step.id
    if current is not None and under_way:
        blocks.append(current)
    measured = [each for block in blocks for each in block.measured]
    found = next((each for each in measured if each.outcome.phase is not Phase.ADJUST), None)
    return StepHistory(
        step=step,
        record=blocks[-1] if blocks else None,
        under_way=under_way,
        found=found,
        adjusted=tuple(each for each in measured if each.outcome.phase is Phase.ADJUST),
        left=measured[-1] if measured and measured[-1] is not found else None,
        decisions=tuple(note.choice for note in notes if isinstance(note, StepDecided) and note.step_id == step.id),
        remarks=_remarks(job, lambda step_id: step_id == step.id),
        photos=_photos(job, records, lambda step_id: step_id == step.id),
    )


def _remarks(job: Row, wanted: Callable[[str | None], bool]) -> tuple[RemarkEntry, ...]:
    return tuple(RemarkEntry(parse_utc(row["at_utc"]), row["text"]) for row in job["remarks"] if wanted(row["step_id"]))


def _photos(job: Row, records: Records, wanted: Callable[[str | None], bool]) -> tuple[PhotoEntry, ...]:
    def content_of(photo_id: int) -> Callable[[], PhotoContent]:
        return lambda: records.photo_content(photo_id)

    return tuple(
        PhotoEntry(row["name"], parse_utc(row["at_utc"]), content_of(row["id"]))
        for row in job["photos"]
        if wanted(row["step_id"])
    )
