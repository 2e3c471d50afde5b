"""Receivers and plans of jobs, worked out once from the text of the receiver file that a job keeps."""

from dataclasses import dataclass
from threading import Lock

from sequences.errors import SequenceError
from sequences.kinds import alignment_plan
from sequences.plan.order import Plan
from sequences.receiver.file import receiver_from_text
from sequences.receiver.model import Receiver
from server.alignment.walk import held_to_ceiling
from server.bench.file import SourceEntry
from server.errors import StoreError
from server.records.database import Row

MOST_KEPT = 32
"""Different receiver files; a shop has no more in hand at once."""


@dataclass(frozen=True, slots=True)
class Planned:
    """A receiver, with no point allowed more than the bench's source may deliver there, and its plan."""

    receiver: Receiver
    plan: Plan


class PlanShelf:
    """Safe to use from several threads."""

    def __init__(self, source: SourceEntry | None) -> None:
        """Plan for a bench with this source."""
        self._source = source
        self._lock = Lock()
        self._planned: dict[str, Planned] = {}

    def of(self, job: Row) -> Planned:
        """Give the receiver and plan of a job.

        Raises:
            StoreError: the receiver file of the job can no longer be used.
        """
        text = job["receiver_file"]
        with self._lock:
            if text not in self._planned:
                while len(self._planned) >= MOST_KEPT:
                    self._planned.pop(next(iter(self._planned)))
                self._planned[text] = self._plan(job["id"], text)
            return self._planned[text]

    def _plan(self, job_id: int, text: str) -> Planned:
        try:
            receiver = receiver_from_text(text, f"The receiver file of job {job_id}").receiver
        except SequenceError as error:
            raise StoreError(str(error)) from error
        receiver = held_to_ceiling(receiver, self._source)
        return Planned(receiver, alignment_plan(receiver))
