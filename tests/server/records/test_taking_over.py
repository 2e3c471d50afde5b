"""A job that a crashed machine had in hand is taken over once that has been silent for long, and not before.

In a shared record programs sign that they live, by the database's clock; here time passes by setting what they signed
back. A file is open on one machine only, whose processes tell all.
"""

import time
from collections.abc import Iterator

import pytest
from sqlalchemy import delete, insert, select, update

from sequences.engine.events import Ending, RunEnded
from server.errors import JobInUse
from server.records import programs
from server.records.programs import SILENT_S
from server.records.runs import INTERRUPTED, NewRun
from server.records.store import Store
from server.records.tables import JobRow, ProgramRow, RunRow
from tests.postgresql import Cluster
from tests.server.records.samples import ASKED, JOB, NOTES, reading

ELSEWHERE = {"host": "bench-2", "pid": 1, "began": 1.0}
PATIENCE_S = 20.0


@pytest.fixture
def shared(postgresql: Cluster) -> Iterator[str]:
    """Where a record may be made that several machines share."""
    with postgresql.database() as url:
        yield url


def work_elsewhere(store: Store) -> tuple[int, int]:
    """Enter a job that another machine has in hand, with a run on and one reading taken; give both numbers."""
    job_id = store.begin_job(JOB)
    run_id = store.begin_run(NewRun("bench", "t", "t", "r", {}, [], job_id, "filter-t2", "as found", "sweep"))
    store.keep(run_id, 0, reading(0))
    store.claim(job_id)
    move_elsewhere(store)
    return job_id, run_id


def move_elsewhere(store: Store) -> None:
    """Have what is in this program's hands be in those of a program on another machine."""
    with store._writing() as connection:  # noqa: SLF001 - stands for another bench
        connection.execute(update(JobRow).values({f"claim_{name}": value for name, value in ELSEWHERE.items()}))
        connection.execute(update(RunRow).values({f"owner_{name}": value for name, value in ELSEWHERE.items()}))
        connection.execute(update(ProgramRow).values(ELSEWHERE))


def pass_by(store: Store, seconds: float) -> None:
    """Let time pass in which nobody signs."""
    with store._writing() as connection:  # noqa: SLF001 - nobody can wait that long
        connection.execute(update(ProgramRow).values(seen_s=ProgramRow.seen_s - seconds))


@pytest.fixture(autouse=True)
def _no_signs_in_between(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(programs, "SIGN_EVERY_S", 3600.0)


def test_a_job_is_taken_over_once_its_machine_has_been_silent_for_long(shared: str) -> None:
    store = Store(shared)
    job_id, run_id = work_elsewhere(store)
    pass_by(store, SILENT_S - 5.0)
    with pytest.raises(JobInUse, match=r"process 1 on bench-2\).* once nothing was heard of that one for 30 s"):
        store.claim(job_id)
    assert store.run(run_id)["ending"] is None

    pass_by(store, 6.0)
    told = store.claim(job_id)

    assert told == (
        f"Job {job_id} was in the hands of process 1 on bench-2, which has given no sign of life for 30 s, and is in "
        "this program's now; the run it had on is marked as interrupted, with all it had read."
    )
    run = store.run(run_id)
    assert (run["ending"], len(run["readings"])) == (INTERRUPTED, 1)
    assert run["ending_text"].startswith("bench-2 gave no sign of life for 30 s while this run was on")
    assert store.claim(job_id) is None
    store.close()


def test_only_the_run_of_the_one_that_is_gone_is_interrupted(shared: str) -> None:
    store = Store(shared)
    job_id, _ = work_elsewhere(store)
    mine = store.begin_run(NewRun("bench", "t", "t", "r", {}, [], None, None, None, None))
    pass_by(store, SILENT_S + 1.0)

    store.claim(job_id)

    assert store.run(mine)["ending"] is None
    store.close()


def test_a_program_that_starts_closes_what_a_silent_machine_left_open(shared: str) -> None:
    store = Store(shared)
    _, run_id = work_elsewhere(store)
    Store(shared).close()
    assert store.run(run_id)["ending"] is None
    pass_by(store, SILENT_S + 1.0)

    Store(shared).close()

    assert store.run(run_id)["ending"] == INTERRUPTED
    with store._reading() as connection:  # noqa: SLF001 - nobody outside needs to see a claim
        assert connection.execute(select(JobRow.claim_pid)).scalar_one() is None
        assert connection.execute(select(ProgramRow)).all() == []
    store.close()


def test_a_program_that_was_taken_for_gone_cannot_go_on_with_the_job(shared: str) -> None:
    """It lost its way to the database and found it again; what it had read is kept, and its run may still end."""
    store, other = Store(shared), Store(shared)
    job_id = store.begin_job(JOB)
    store.claim(job_id)
    run_id = store.begin_run(NewRun("bench", "t", "t", "r", {}, [], job_id, "filter-t2", "as found", "sweep"))
    with store._writing() as connection:  # noqa: SLF001 - stands for a bench that took the job over
        connection.execute(update(JobRow).values(claim_host="bench-2", claim_pid=1, claim_began=1.0))
        connection.execute(
            insert(ProgramRow).from_select(
                ["host", "pid", "began", "seen_s"],
                select(JobRow.claim_host, JobRow.claim_pid, JobRow.claim_began, programs.NOW_S),
            )
        )

    store.keep(run_id, 0, reading(0))
    for deed in (
        lambda: store.note(job_id, NOTES[0]),
        lambda: store.answered(job_id, ASKED, "done"),
        lambda: store.begin_run(NewRun("bench", "t", "t", "r", {}, [], job_id, "filter-t2", "as found", "sweep")),
    ):
        with pytest.raises(
            JobInUse, match=rf"Job {job_id} has been taken over by another program \(process 1 on bench-2"
        ):
            deed()
    store.end_run(run_id, RunEnded(Ending.STOPPED, "The run was stopped.", True), None)

    assert len(store.run(run_id)["readings"]) == 1
    other.close()
    store.close()


def test_one_that_never_signed_is_left_to_its_machine(shared: str) -> None:
    """As programs did before there were signs; `peakwright job free` is for these."""
    store = Store(shared)
    job_id, _ = work_elsewhere(store)
    with store._writing() as connection:  # noqa: SLF001 - stands for an older program
        connection.execute(delete(ProgramRow))

    with pytest.raises(JobInUse):
        store.claim(job_id)
    store.free(job_id)
    assert store.claim(job_id) is None
    store.close()


def test_signs_are_written_while_something_is_in_hand(shared: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(programs, "SIGN_EVERY_S", 0.01)
    store = Store(shared)
    store.claim(store.begin_job(JOB))
    pass_by(store, 1000.0)

    assert eventually_signed(store)
    store.close()


def eventually_signed(store: Store) -> bool:
    """Wait until the program has signed anew."""
    deadline_s = time.monotonic() + PATIENCE_S
    while time.monotonic() < deadline_s:
        with store._reading() as connection:  # noqa: SLF001 - nobody outside needs to see a sign
            silent_s = connection.execute(select(programs.NOW_S - ProgramRow.seen_s)).scalar_one()
        if silent_s < SILENT_S:
            return True
        time.sleep(0.01)
    return False


def test_in_a_file_only_processes_count(tmp_path: object) -> None:
    """Nothing is signed, and a machine's name means nothing: it may have been given another."""
    store = Store(f"{tmp_path}/record.sqlite")
    job_id, run_id = work_elsewhere(store)

    told = store.claim(job_id)

    assert told == (
        f"Job {job_id} was in the hands of process 1 on bench-2, which is gone, and is in this program's now; the run "
        "it had on is marked as interrupted, with all it had read."
    )
    assert store.run(run_id)["ending"] == INTERRUPTED
    with store._reading() as connection:  # noqa: SLF001 - nobody outside needs to see a sign
        assert connection.execute(select(ProgramRow)).all() == []
    store.close()
