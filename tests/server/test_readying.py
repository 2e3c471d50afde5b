"""What stands on a bench of instruments: asked after a break or another job, and not again within one."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from sequences.alignment.standing import nothing_stands
from sequences.engine.events import Asked
from sequences.receiver.file import load_receiver
from server.bench.readying import NO, YES, BenchReadying
from server.records.store import Store
from tests.server.records.samples import JOB

RECEIVER = load_receiver(Path("skerry-7"))
SET = Asked("set", "agc", "Set AGC off.", ("done",), {"to": "off"})


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """A record."""
    opened = Store(tmp_path / "record.sqlite")
    yield opened
    opened.close()


class Person:
    """Answers the same each time, and counts."""

    def __init__(self, answer: str) -> None:
        """Be asked nothing yet."""
        self.asked = 0
        self._answer = answer

    def __call__(self, _asked: Asked) -> str:
        """Answer."""
        self.asked += 1
        return self._answer


def test_a_job_that_has_set_nothing_asks_nothing(store: Store) -> None:
    person = Person(YES)

    assert BenchReadying(store).ready(store.begin_job(JOB), RECEIVER, person) == nothing_stands(RECEIVER)
    assert person.asked == 0


@pytest.mark.parametrize("answer", [YES, NO])
def test_after_a_break_the_person_is_asked_and_believed(store: Store, answer: str) -> None:
    """A no takes nothing to stand."""
    job, person = store.begin_job(JOB), Person(answer)
    store.answered(job, SET, "done")

    stands = BenchReadying(store).ready(job, RECEIVER, person) != nothing_stands(RECEIVER)

    assert (person.asked, stands) == (1, answer == YES)


def test_within_one_job_nobody_is_asked_again_until_something_else_was_done(store: Store) -> None:
    """Another job on the bench, or a scan, moves leads and controls."""
    job, other, person, readying = store.begin_job(JOB), store.begin_job(JOB), Person(YES), BenchReadying(store)
    store.answered(job, SET, "done")
    readying.follow(job, lambda _: None, lambda: None)
    readying.ready(job, RECEIVER, person)
    assert person.asked == 0

    readying.follow(other, lambda _: None, lambda: None)
    readying.ready(job, RECEIVER, person)
    assert person.asked == 1

    readying.follow(job, lambda _: None, lambda: None)
    readying.forget()
    readying.ready(job, RECEIVER, person)
    assert person.asked == 2
