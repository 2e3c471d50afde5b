"""The person at the page, as the bench's thread waits for one."""

from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field
from itertools import count

import pytest

from sequences.engine.events import Asked
from sequences.errors import Stopped
from server.alignment.web_person import MOST_SIGNALS, Question, WebPerson
from server.bench.stop_bell import StopBell
from server.errors import OrderRefused, StaleRequest
from tests.fakes import FakeClock
from tests.server.benches import PATIENCE_S, eventually

TURN = Asked("turn", "T1 primary", "Turn T1 primary 1/8 turn clockwise.", ("done", "cannot"), {"turns": 0.125})


@dataclass
class Waiting:
    """A person that is asked on a thread of its own."""

    clock: FakeClock = field(default_factory=FakeClock)
    stop: StopBell = field(default_factory=StopBell)
    shown: list[Question | None] = field(default_factory=list)
    pool: ThreadPoolExecutor = field(default_factory=lambda: ThreadPoolExecutor(1))

    def __post_init__(self) -> None:
        """Make the person."""
        self.person = WebPerson(self.stop, count(40), self.shown.append, self.clock.now, unattended_s=60.0)

    def ask(self, asked: Asked = TURN) -> Future[str]:
        """Ask, and wait until the question stands."""
        answer = self.pool.submit(self.person.answer, asked)
        eventually(lambda: self.shown and self.shown[-1] is not None)
        return answer


@pytest.fixture
def waiting() -> Waiting:
    """Nobody was asked yet."""
    return Waiting()


def test_an_answer_comes_from_another_thread(waiting: Waiting) -> None:
    """The question is shown with its number, and no longer once it is answered."""
    answer = waiting.ask()
    waiting.person.give_answer(40, "cannot")

    assert answer.result(PATIENCE_S) == "cannot"
    assert waiting.shown == [Question(40, TURN), None]


def test_each_question_has_a_number_of_its_own(waiting: Waiting) -> None:
    """So that an answer to one never answers the next."""
    first = waiting.ask()
    waiting.person.give_answer(40, "done")
    first.result(PATIENCE_S)
    waiting.ask()

    with pytest.raises(StaleRequest, match="no longer stands"):
        waiting.person.give_answer(40, "done")
    waiting.person.give_answer(41, "done")


def test_a_question_is_answered_once(waiting: Waiting) -> None:
    """The second of two quick answers comes too late."""
    with waiting.stop.changing():  # the bench's thread cannot take the first before the second comes
        waiting.person._state.question = Question(7, TURN)  # noqa: SLF001 - as if it had been asked
        waiting.person.give_answer(7, "done")
        with pytest.raises(StaleRequest, match="No question waits"):
            waiting.person.give_answer(7, "cannot")


def test_only_its_own_answers_are_taken(waiting: Waiting) -> None:
    """Any text where it names none."""
    first = waiting.ask()
    with pytest.raises(OrderRefused, match=r'"later" is no answer .* done, cannot'):
        waiting.person.give_answer(40, "later")
    waiting.person.give_answer(40, "done")
    first.result(PATIENCE_S)

    free = waiting.ask(Asked("choose", "mark", "What does the dial read?", ()))
    waiting.person.give_answer(41, "4.2")
    assert free.result(PATIENCE_S) == "4.2"


def test_a_stop_wakes_whoever_waits(waiting: Waiting) -> None:
    """At once, with the question gone; and nobody is asked any more."""
    answer = waiting.ask()
    waiting.stop.set()

    with pytest.raises(Stopped):
        answer.result(PATIENCE_S)
    assert waiting.shown[-1] is None
    with pytest.raises(StaleRequest):
        waiting.person.give_answer(40, "done")
    with pytest.raises(Stopped):
        waiting.person.answer(TURN)
    assert waiting.person.ended_because is None


def test_signals_are_given_one_by_one_in_order(waiting: Waiting) -> None:
    """A pedal that is pressed twice between two looks made two steps."""
    for signal in ("step", "step", "done"):
        waiting.person.give_signal(signal)

    assert [waiting.person.signal() for _ in range(4)] == ["step", "step", "done", None]


def test_signals_before_a_question_are_forgotten_and_beside_it_refused(waiting: Waiting) -> None:
    """What follows the answer is signalled afresh."""
    waiting.person.give_signal("done")
    answer = waiting.ask()
    with pytest.raises(StaleRequest, match="answer it first"):
        waiting.person.give_signal("done")
    waiting.person.give_answer(40, "done")
    answer.result(PATIENCE_S)

    assert waiting.person.signal() is None


def test_a_jammed_pedal_fills_nothing(waiting: Waiting) -> None:
    """The oldest signals are dropped."""
    for _ in range(10 * MOST_SIGNALS):
        waiting.person.give_signal("step")

    given = 0
    while waiting.person.signal() is not None:
        given += 1
    assert given == MOST_SIGNALS


def too_long(waiting: Waiting) -> None:
    """Let the source be on with nobody there."""
    waiting.person.source_is(output_on=True)
    waiting.clock.time_s += 60.1


NOBODY = r"Nobody answered for 1 minutes .* switched off; begin the step again"


def test_the_source_does_not_stay_on_for_a_question(waiting: Waiting) -> None:
    """Which is asked while somebody may have gone."""
    waiting.person.source_is(output_on=True)
    answer = waiting.ask()
    waiting.clock.time_s += 60.1

    with pytest.raises(Stopped, match=NOBODY):
        answer.result(PATIENCE_S)
    assert waiting.person.ended_because is not None


def test_the_source_does_not_stay_on_for_a_slug_that_nobody_turns(waiting: Waiting) -> None:
    """Guidance goes on for as long as the person gives a sign now and then."""
    too_long(waiting)
    with pytest.raises(Stopped, match=NOBODY):
        waiting.person.require_attended()


def test_a_long_sweep_before_a_question_does_not_count(waiting: Waiting) -> None:
    """Nobody can answer what was not asked yet."""
    too_long(waiting)
    answer = waiting.ask()
    waiting.person.give_answer(40, "done")

    assert answer.result(PATIENCE_S) == "done"


def test_with_the_source_off_a_question_waits_for_ever(waiting: Waiting) -> None:
    """A person may go for lunch between two leads."""
    waiting.person.source_is(output_on=False)
    waiting.clock.time_s += 1e6
    answer = waiting.ask()
    waiting.person.give_answer(40, "done")

    assert answer.result(PATIENCE_S) == "done"


def test_any_sign_of_the_person_counts(waiting: Waiting) -> None:
    """A signal, or hands on the practice bench."""
    waiting.person.source_is(output_on=True)
    waiting.clock.time_s += 50.0
    waiting.person.give_signal("step")
    assert waiting.person.signal() == "step"
    waiting.clock.time_s += 50.0
    waiting.person.heard()
    waiting.clock.time_s += 50.0
    waiting.person.require_attended()


def test_whoever_answers_can_wait_until_it_is_kept(waiting: Waiting) -> None:
    """And is let go where the session ends before."""
    answer = waiting.ask()
    waiting.person.give_answer(40, "done")
    answer.result(PATIENCE_S)
    with ThreadPoolExecutor(1) as pool:
        kept = pool.submit(waiting.person.wait_until_kept, 40, PATIENCE_S)
        assert not kept.done()
        waiting.person.answer_is_kept()
        kept.result(PATIENCE_S)
        stopped = pool.submit(waiting.person.wait_until_kept, 41, PATIENCE_S)
        waiting.stop.set()
        stopped.result(PATIENCE_S)
