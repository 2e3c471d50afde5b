"""The log of one job in the record: each note, answer and event is on disk before anybody is told of it."""

from collections.abc import Callable
from typing import Any

from sequences.alignment.outcome import Phase
from sequences.alignment.progress import Note, StepMeasured
from sequences.engine.events import Asked, Event, RunEnded
from sequences.plan.content import Step, Way
from server.plain import to_plain
from server.records.runs import NewRun
from server.records.store import Store

Instruments = Callable[[], list[dict[str, Any]]]
"""Gives the instruments as they are at a run's beginning: role, address, identity, state, detail."""

Tell = Callable[[int, int, Event], None]
"""Is told of an event with its run and its number in that run, once it is kept."""


class JobLog:
    """Keeps what an alignment does as notes, answers and runs of one job."""

    def __init__(self, store: Store, job_id: int, instruments: Instruments, tell: Tell | None = None) -> None:
        """Write into a job.

        Raises:
            UnknownThing: there is no such job.
        """
        self._store = store
        self._job = store.job_header(job_id)
        self._instruments = instruments
        self._tell = tell
        self._seq = 0
        self.run_id: int | None = None
        """The latest run."""

    def note(self, note: Note) -> None:
        """Keep where the alignment stands; a measurement with the run it came from."""
        self._store.note(self._job["id"], note, run_id=self.run_id if isinstance(note, StepMeasured) else None)

    def begin_run(self, step: Step, way: Way, phase: Phase) -> None:
        """Enter a run of a step."""
        new = NewRun(
            mode=self._job["mode"],
            target=step.id,
            target_name=step.title,
            receiver=self._job["receiver_name"],
            settings={"hookup": to_plain(way.hookup), "nominal_khz": step.nominal_khz},
            instruments=self._instruments(),
            job_id=self._job["id"],
            step_id=step.id,
            phase=phase.value,
            way=way.name.value,
        )
        self.run_id = self._store.begin_run(new)
        self._seq = 0

    def event(self, event: Event) -> None:
        """Keep what the run emits; its last event ends it in the record."""
        assert self.run_id is not None  # noqa: S101 - the walk begins each run
        if isinstance(event, RunEnded):
            self._store.end_run(self.run_id, event, None)
        else:
            self._store.keep(self.run_id, self._seq, event)
        if self._tell is not None:
            self._tell(self.run_id, self._seq, event)
        self._seq += 1

    def answered(self, asked: Asked, answer: str) -> None:
        """Keep an answer with its question."""
        self._store.answered(self._job["id"], asked, answer)
