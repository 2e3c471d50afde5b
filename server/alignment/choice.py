"""Which job an alignment goes on with: the latest of the same receiver that was broken off, or a new one."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from sequences.alignment.progress import Progress
from sequences.errors import SequenceError
from sequences.kinds import alignment_plan
from sequences.receiver.file import ReceiverFile, receiver_from_text
from server.errors import OrderRefused, ReceiverListError, StoreError
from server.records.database import Row
from server.records.jobs import DONE
from server.records.notes import Answered
from server.records.store import Store


@dataclass(frozen=True, slots=True)
class ChosenJob:
    """A job to go on with, or to begin where `number` is None. `file` is the receiver file that it goes by.

    `told` says that it was taken over, where another program that is gone had it in hand.
    """

    number: int | None
    file: ReceiverFile
    progress: Progress
    answers: tuple[Answered, ...] = ()
    told: str | None = None


@dataclass(frozen=True, slots=True)
class Wanted:
    """What kind of job is looked for; `seed` is that of a practice bench, `serial` None where any will do."""

    file: ReceiverFile
    mode: str
    seed: int | None
    serial: str | None
    number: int | None


def choose_job(store: Store, wanted: Wanted, goes_on: Callable[[ChosenJob, Row], bool]) -> ChosenJob:
    """Choose the job; one that is gone on with is in this program's hands from here. `goes_on` says whether to.

    Raises:
        JobInUse: another program has it in hand.
        UnknownThing: the job that was asked for is not there.
        OrderRefused: it is of another receiver or bench.
        StoreError: it cannot be gone on with.
        ReceiverListError: its receiver file cannot be used.
    """
    found = _find(store, wanted)
    if found is not None:
        chosen = _reopened(store, found["id"])
        if wanted.number is not None or goes_on(chosen, found):
            told = store.claim(found["id"])
            return replace(
                _reopened(store, found["id"]), told=told
            )  # as it stands now: another may have worked on it meanwhile
    return ChosenJob(None, wanted.file, Progress(wanted.file.receiver.id))


def is_over(job: Row) -> bool:
    """Tell whether a job came to its end."""
    return bool(job["state"] == DONE)


def _find(store: Store, wanted: Wanted) -> Row | None:
    receiver_id = wanted.file.receiver.id
    if wanted.number is not None:
        job = store.job_header(wanted.number)
        if (job["receiver_id"], job["mode"], job["seed"]) != (receiver_id, wanted.mode, wanted.seed):
            seeded = "" if job["seed"] is None else f", seed {job['seed']}"
            raise OrderRefused(f"Job {wanted.number} is of {job['receiver_id']} ({job['mode']}{seeded}), not of this.")
        return job
    same = (job for job in store.jobs(receiver_id=receiver_id) if _is_like(job, wanted))
    return next(same, None)


def _is_like(job: Row, wanted: Wanted) -> bool:
    same_set = wanted.serial is None or job["serial"] == wanted.serial
    return same_set and (job["mode"], job["seed"]) == (wanted.mode, wanted.seed)


def _reopened(store: Store, number: int) -> ChosenJob:
    job = store.job_header(number)
    try:
        file = receiver_from_text(job["receiver_file"], f"The receiver file of job {number}")
    except SequenceError as error:
        raise ReceiverListError(str(error)) from error
    progress = store.progress(number)
    known = {step.id for step in alignment_plan(file.receiver).steps}
    noted = [*progress.ended, *([progress.current] if progress.current else [])]
    for record in noted:
        if record.step_id not in known:
            gone = f"the step '{record.step_id}' is no longer in the plan of {file.receiver.name}"
            raise StoreError(f"Job {number}: {gone}; begin anew.")
    return ChosenJob(number, file, progress, tuple(store.answers(number)))
