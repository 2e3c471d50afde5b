"""A nursery of writers that are meant to be killed: warmed up once, it forks a fresh one for each line it reads.

Each writer goes on with job 1 of a record: it takes it in hand, and measures one step after another with invented
readings. It says each thing only when the record has acknowledged it, one line each: `pid N`, `run N`, `reading N`,
`ended N`, `noted`. The nursery says `dead` when the writer is gone.
"""

import os
import sys
import tempfile
from collections.abc import Callable, Iterator

import psycopg  # noqa: F401 - loaded once, before the writers are

from sequences.alignment.outcome import Finding, Phase, StepOutcome
from sequences.alignment.progress import Choice, Note, Progress, StepBegun, StepDecided, StepMeasured
from sequences.engine.events import Ending, LevelTaken, PartialFit, ReadingTaken, RunEnded, SourceChanged
from sequences.engine.instruments import Mark
from sequences.numerics.figures import Estimate
from sequences.plan.content import WayName
from server.records.jobs import NewJob
from server.records.runs import NewRun
from server.records.store import Store
from tests.quantities import called

JOB = 1
READINGS = 6

Show = Callable[[str], None]


def say(line: str) -> None:
    """Say a line, all of it or nothing."""
    os.write(1, f"{line}\n".encode())


def write(place: str) -> None:
    """Go on with the job until killed."""
    say(f"pid {os.getpid()}")
    store = Store(place)
    store.claim(JOB)
    while True:
        for note, run_id in _a_step(store, store.progress(JOB), say):
            store.note(JOB, note, run_id=run_id)
            say("noted")


def _a_step(store: Store, progress: Progress, show: Show) -> Iterator[tuple[Note, int | None]]:
    """Do what is left of the step that is on, or a whole new one."""
    record = progress.current
    step_id = f"step-{len(progress.ended)}" if record is None else record.step_id
    if record is None:
        yield StepBegun(step_id, WayName.SWEEP), None
    if record is None or record.last is None:
        run_id = _measure(store, step_id, show)
        finding = Finding(called("centre", "Hz"), "", Estimate(60000.0, 1.0))
        yield StepMeasured(StepOutcome(step_id, Phase.AS_FOUND, (finding,)), at_s=1e9), run_id
    yield StepDecided(step_id, Choice.LEAVE), None


def _measure(store: Store, step_id: str, show: Show) -> int:
    run_id = store.begin_run(NewRun("bench", step_id, step_id, "Skerry 7", {}, [], JOB, step_id, "as found", "sweep"))
    show(f"run {run_id}")
    store.keep(run_id, 0, SourceChanged(0.0, 60000.0, -60.0, True))
    for index in range(READINGS):
        taken = ReadingTaken(index, 0.1 * index, "meter", "scan", 0.5, "V", Mark.GOOD, 60000.0, -60.0)
        store.keep(run_id, 2 * index + 1, taken)
        show(f"reading {index}")
        store.keep(run_id, 2 * index + 2, LevelTaken(index, 60000.0, -6.02, True))
        store.keep(run_id, 2 * index + 2, PartialFit({"centre_hz": 60000.0 + index}))
    store.end_run(run_id, RunEnded(Ending.COMPLETED, "The run is complete.", True), None)
    show(f"ended {run_id}")
    return run_id


def warm_up() -> None:
    """Do a step in a record that nobody looks at, so that no writer spends its life on loading modules."""
    with tempfile.TemporaryDirectory() as folder:
        store = Store(f"{folder}/record.sqlite")
        store.begin_job(NewJob("skerry-7", "Skerry 7", "", "bench"))
        store.claim(JOB)
        for note, run_id in _a_step(store, store.progress(JOB), lambda _: None):
            store.note(JOB, note, run_id=run_id)
        store.close()


def main() -> None:
    """Fork a writer for each line, and wait until somebody has killed it."""
    warm_up()
    for line in sys.stdin:
        writer = os.fork()
        if writer == 0:
            write(line.strip())
        os.waitpid(writer, 0)
        say("dead")


if __name__ == "__main__":
    main()
