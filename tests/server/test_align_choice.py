"""An alignment at the terminal goes on with the right job, by the receiver file that the job began with."""

import os
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest
from sqlalchemy import select, update

from sequences.alignment.progress import StepBegun, StepLeft
from sequences.plan.content import WayName
from sequences.receiver.file import ReceiverFile, shipped_receiver_files
from server.alignment.choice import ChosenJob, Wanted, choose_job
from server.errors import OrderRefused, ReceiverListError, StoreError, UnknownThing
from server.records.database import Row
from server.records.jobs import NewJob
from server.records.store import Store
from server.records.tables import JobRow
from tests.server.records.samples import ASKED

SKERRY, MILLRACE = (
    next(file for file in shipped_receiver_files() if file.receiver.id == receiver_id)
    for receiver_id in ("skerry-7", "millrace-5")
)
NEW = NewJob("skerry-7", "Skerry 7", SKERRY.text, "practice", seed=3, serial="12")
WANTED = Wanted(SKERRY, "practice", 3, serial=None, number=None)


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """An empty record."""
    opened = Store(tmp_path / "record.sqlite")
    yield opened
    opened.close()


def yes(_chosen: ChosenJob, _job: Row) -> bool:
    """Go on with whatever is found."""
    return True


def no(_chosen: ChosenJob, _job: Row) -> bool:
    """Begin anew."""
    return False


def test_where_there_is_none_a_new_job_is_begun(store: Store) -> None:
    chosen = choose_job(store, WANTED, yes)

    assert (chosen.number, chosen.file, chosen.progress.ended, chosen.answers) == (None, SKERRY, (), ())


def test_the_latest_job_of_the_same_receiver_bench_and_seed_is_gone_on_with(store: Store) -> None:
    store.begin_job(NEW)
    latest = store.begin_job(NEW)
    others = (replace(NEW, seed=4), replace(NEW, mode="bench", seed=None), replace(NEW, receiver_id="millrace-5"))
    for other in others:
        store.begin_job(other)

    assert choose_job(store, WANTED, yes).number == latest


def test_a_job_that_a_dead_program_had_in_hand_is_said_to_have_been_taken_over(store: Store) -> None:
    job = store.begin_job(NEW)
    assert choose_job(store, WANTED, yes).told is None
    with store._writing() as connection:  # noqa: SLF001 - stands for a program that died
        connection.execute(update(JobRow).values(claim_began=1.0))

    told = choose_job(store, WANTED, yes).told
    assert told is not None
    assert told.startswith(f"Job {job} was in the hands of process {os.getpid()} on")


def test_a_job_of_another_set_is_not_gone_on_with_where_the_serial_is_given(store: Store) -> None:
    mine = store.begin_job(NEW)
    store.begin_job(replace(NEW, serial="13"))

    assert choose_job(store, replace(WANTED, serial="12"), yes).number == mine
    assert choose_job(store, replace(WANTED, serial="14"), yes).number is None


def test_only_a_job_that_is_gone_on_with_is_taken_in_hand(store: Store) -> None:
    """Another program may have the one that is left alone."""
    store.begin_job(NEW)
    in_hand = select(JobRow.claim_pid)

    for goes_on, expected in ((no, None), (yes, os.getpid())):
        choose_job(store, WANTED, goes_on)
        with store._reading() as connection:  # noqa: SLF001 - nobody outside needs to see a claim
            assert connection.execute(in_hand).scalar_one() == expected


def test_it_goes_on_where_it_was_with_the_file_it_began_with(store: Store) -> None:
    """Even where the file has been edited since."""
    text = SKERRY.text + "\n# as it was\n"
    job_id = store.begin_job(replace(NEW, receiver_file=text))
    store.note(job_id, StepLeft("warm-up", "It is warm."))
    store.note(job_id, StepBegun("beat-oscillator", WayName.COUNT))
    store.answered(job_id, ASKED, "done")

    chosen = choose_job(store, WANTED, yes)

    assert chosen.file == ReceiverFile(SKERRY.receiver, text)
    assert [record.step_id for record in chosen.progress.ended] == ["warm-up"]
    assert chosen.progress.current is not None
    assert [(each.asked, each.answer) for each in chosen.answers] == [(ASKED, "done")]


def test_what_was_done_while_the_person_was_asked_counts(store: Store) -> None:
    """The page may have gone on with the job meanwhile."""
    job_id = store.begin_job(NEW)

    def asked(_chosen: ChosenJob, _job: Row) -> bool:
        store.note(job_id, StepLeft("warm-up", "It is warm."))
        return True

    assert len(choose_job(store, WANTED, asked).progress.ended) == 1


def test_a_job_may_be_named(store: Store) -> None:
    first, _ = store.begin_job(NEW), store.begin_job(NEW)

    assert choose_job(store, replace(WANTED, number=first), no).number == first
    with pytest.raises(UnknownThing, match="no job number 9"):
        choose_job(store, replace(WANTED, number=9), no)
    with pytest.raises(OrderRefused, match=r"Job 1 is of skerry-7 \(practice, seed 3\), not of this"):
        choose_job(store, Wanted(MILLRACE, "practice", 3, serial=None, number=first), no)


@pytest.mark.parametrize(
    ("step", "text", "error", "sentence"),
    [
        ("polish", SKERRY.text, StoreError, "the step 'polish' is no longer in the plan of Skerry 7; begin anew"),
        ("warm-up", "id = 7\n", ReceiverListError, "The receiver file of job 1: "),
    ],
)
def test_a_job_that_cannot_be_gone_on_with_is_one_sentence(
    store: Store, step: str, text: str, error: type[Exception], sentence: str
) -> None:
    job_id = store.begin_job(replace(NEW, receiver_file=text))
    store.note(job_id, StepLeft(step, "It is bright."))

    with pytest.raises(error, match=sentence):
        choose_job(store, WANTED, yes)
