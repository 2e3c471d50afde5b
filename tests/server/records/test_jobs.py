"""A job is kept whole: what is said of it, notes, answers, runs, remarks and photos; and one program works on it."""

import subprocess
import sys
from functools import reduce

import pytest
from sqlalchemy import update

from sequences.alignment.progress import Choice, Progress, StepBegun, StepDecided, StepLeft, StepMeasured, noted
from sequences.engine.events import Ending, RunEnded
from sequences.plan.content import WayName
from server.errors import JobInUse, OrderRefused, StoreError, UnknownThing
from server.records.jobs import NewJob
from server.records.runs import NewRun
from server.records.search import History
from server.records.store import Store
from server.records.tables import JobRow
from tests.server.records.samples import ASKED, FOUND, JOB, NOTES, at_noon, reading

NOON = "2026-11-25T12:00:00.500Z"


def begun(store: Store) -> int:
    """Enter a job with all its notes."""
    job_id = store.begin_job(JOB)
    for note in NOTES:
        store.note(job_id, note)
    return job_id


def test_what_is_said_of_a_job_comes_back(store: Store) -> None:
    """The receiver file as it was, so that the job can go on with it in ten years."""
    job = store.job(store.begin_job(JOB))

    assert (job["state"], job["started_utc"], job["ended_utc"]) == ("open", NOON, None)
    assert {name: job[name] for name in NewJob.__dataclass_fields__} == {
        name: getattr(JOB, name) for name in NewJob.__dataclass_fields__
    }


def test_a_job_of_which_little_is_known_is_a_job(store: Store) -> None:
    job = store.job(store.begin_job(NewJob("skerry-7", "Skerry 7", "", "practice", seed=3)))

    assert (job["seed"], job["owner"], job["serial"], job["room_temperature_c"]) == (3, "", "", None)


def test_what_is_said_of_a_job_can_be_changed(store: Store) -> None:
    job_id = store.begin_job(JOB)
    store.change_job(job_id, owner="C. Heron", room_temperature_c=None)
    store.change_job(job_id)

    job = store.job(job_id)
    assert (job["owner"], job["room_temperature_c"], job["serial"]) == ("C. Heron", None, "1234")


def test_a_job_ends_when_it_is_done_and_may_be_opened_again(store: Store) -> None:
    job_id = store.begin_job(JOB)
    ended = []
    for state in ("paused", "done", "open"):
        store.change_job(job_id, state=state)
        ended.append(store.job_header(job_id)["ended_utc"])

    assert ended == [None, NOON, None]


@pytest.mark.parametrize(
    ("changes", "sentence"),
    [({"receiver_id": "x"}, "'receiver_id' of a job cannot be changed"), ({"state": "lost"}, "not 'lost'")],
)
def test_what_cannot_be_changed_is_refused(store: Store, changes: dict[str, str], sentence: str) -> None:
    job_id = store.begin_job(JOB)

    with pytest.raises(OrderRefused, match=sentence):
        store.change_job(job_id, **changes)


def test_notes_come_back_to_the_last_figure(store: Store) -> None:
    """Verdicts, figures without bound and all."""
    job_id = begun(store)

    assert store.notes(job_id) == NOTES
    assert store.progress(job_id) == reduce(noted, NOTES, Progress("skerry-7"))
    kept = store.job(job_id)["notes"]
    assert [note["kind"] for note in kept] == [type(note).__name__ for note in NOTES]
    assert {note["at_utc"] for note in kept} == {NOON}


def test_a_note_that_follows_from_nothing_is_refused(store: Store) -> None:
    """It would make the whole job unreadable."""
    job_id = store.begin_job(JOB)

    with pytest.raises(StoreError, match="The step 'filter-t2' was not begun"):
        store.note(job_id, StepMeasured(FOUND, at_s=1e9))

    assert store.notes(job_id) == []


def test_answers_come_back_in_order(store: Store) -> None:
    job_id = store.begin_job(JOB)
    for answer in ("done", "cannot"):
        store.answered(job_id, ASKED, answer)

    assert [(each.asked, each.answer) for each in store.answers(job_id)] == [(ASKED, "done"), (ASKED, "cannot")]
    assert store.job(job_id)["answers"][0]["at_utc"] == NOON


def test_a_run_of_a_step_belongs_to_its_job_and_is_no_scan(store: Store) -> None:
    job_id = store.begin_job(JOB)
    run_id = store.begin_run(NewRun("bench", "t", "t", "r", {}, [], job_id, "filter-t2", "as found", "sweep"))
    store.keep(run_id, 0, reading(0))
    store.end_run(run_id, RunEnded(Ending.COMPLETED, "", True), {"centre_hz": 1.5})
    store.note(job_id, NOTES[0])
    store.note(job_id, NOTES[1], run_id=run_id)

    (run,) = store.job(job_id)["runs"]
    assert (run["id"], run["step_id"], run["phase"], run["way"]) == (run_id, "filter-t2", "as found", "sweep")
    assert (run["readings"], run["ending"], run["centre_hz"]) == (1, "completed", 1.5)
    assert store.run(run_id)["job_id"] == job_id
    assert [note["run_id"] for note in store.job(job_id)["notes"]] == [None, run_id]
    assert store.runs() == []


def test_a_run_of_no_job_there_is_is_refused(store: Store) -> None:
    with pytest.raises(StoreError, match=r"(?i)foreign key"):
        store.begin_run(NewRun("bench", "t", "t", "r", {}, [], 99, "s", "as found", "sweep"))


def test_a_job_that_is_not_there_is_said_to_be_so(store: Store) -> None:
    for number in (99, 0, -1, 2**31, 2**70):
        with pytest.raises(UnknownThing, match=f"no job number {number}"):
            store.job(number)
    with pytest.raises(UnknownThing, match="no job number 99"):
        store.note(99, NOTES[0])
    with pytest.raises(UnknownThing, match="no job number 99"):
        store.answered(99, ASKED, "done")
    with pytest.raises(UnknownThing, match="no job number 99"):
        store.claim(99)


def test_figures_of_a_receiver_come_back_over_its_jobs(store: Store) -> None:
    """A figure that could not be had, or is without bound, is one too."""
    first, second = begun(store), begun(store)

    rows = store.history("skerry-7", "1234").figures

    assert [row["job_id"] for row in rows] == [first] * 5 + [second] * 5
    assert rows[1] == {
        "job_id": first,
        "at_utc": NOON,
        "step_id": "filter-t2",
        "phase": "as found",
        "name": "error",
        "where": "",
        "unit": "Hz",
        "value": 30.0,
        "sigma": 1.0,
        "verdict": "touch up",
    }
    assert (rows[0]["value"], rows[0]["sigma"], rows[0]["verdict"]) == (0.25, None, None)
    assert (rows[4]["value"], rows[4]["verdict"]) == (None, "suspect a part")
    assert store.history("skerry-7").figures == rows
    assert store.history("skerry-7", "4321") == store.history("millrace-5") == History([], jobs=0, jobs_shown=0)


def test_a_figure_that_was_measured_afresh_before_anything_was_turned_counts_once(store: Store) -> None:
    job_id = store.begin_job(JOB)
    begin, found = StepBegun("filter-t2", WayName.SWEEP), StepMeasured(FOUND, at_s=1e9)
    again, leave = StepDecided("filter-t2", Choice.AGAIN), StepDecided("filter-t2", Choice.LEAVE)
    for note in (begin, found, leave, begin, found, again, found, leave):
        store.note(job_id, note)

    # the step was done twice, and in its second time measured twice
    assert [row["name"] for row in store.history("skerry-7").figures] == ["bend", "error"] * 2


def test_a_program_that_has_a_job_in_hand_keeps_others_off(store: Store, place: str) -> None:
    job_id, other = store.begin_job(JOB), store.begin_job(JOB)
    program = (
        "import sys; from server.records.store import Store; store = Store(sys.argv[1]); "
        "store.claim(int(sys.argv[2])); print('mine', flush=True); sys.stdin.read(); store.close()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", program, place, str(job_id)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as first:
        assert first.stdout is not None
        assert first.stdout.readline() == "mine\n"
        with pytest.raises(JobInUse, match=rf"Job {job_id} is in the hands of another program \(process {first.pid}"):
            store.claim(job_id)
        store.claim(other)
        first.communicate("")
    store.claim(job_id)


def test_a_job_that_a_program_had_in_hand_when_it_was_killed_is_free(store: Store, place: str) -> None:
    job_id = store.begin_job(JOB)
    program = (
        "import os, sys; from server.records.store import Store; Store(sys.argv[1]).claim(int(sys.argv[2])); os.abort()"
    )
    subprocess.run([sys.executable, "-c", program, place, str(job_id)], check=False)

    store.claim(job_id)


def test_a_job_may_be_claimed_again_by_the_program_that_has_it_and_released(store: Store, place: str) -> None:
    job_id = store.begin_job(JOB)
    store.claim(job_id)
    store.claim(job_id)
    store.release(job_id)
    store.claim(job_id)
    store.close()

    reopened = Store(place, now=at_noon)
    with reopened._reading() as connection:  # noqa: SLF001 - nobody outside needs to see a claim
        assert connection.execute(JobRow.__table__.select()).mappings().one()["claim_pid"] is None
    reopened.close()


def test_a_job_that_another_machine_has_in_hand_is_refused(store: Store) -> None:
    """In a file that cannot be: it is open on one machine only, which may have been renamed."""
    job_id = store.begin_job(JOB)
    elsewhere = {"claim_host": "bench-2", "claim_pid": 1, "claim_began": 1.0}
    with store._writing() as connection:  # noqa: SLF001 - stands for another bench
        connection.execute(update(JobRow).values(**elsewhere))

    if store.place.file is not None:
        store.claim(job_id)
        return
    with pytest.raises(JobInUse, match="process 1 on bench-2"):
        store.claim(job_id)


def test_a_step_left_is_as_good_as_ended(store: Store) -> None:
    job_id = store.begin_job(JOB)
    store.note(job_id, StepLeft("filter-t1", "It is missing."))

    (job,) = store.jobs()
    assert (job["counts"]["unmeasured"], job["steps_done"]) == (1, 1)
