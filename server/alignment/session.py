"""One step of a job with the person at the page, from its beginning to its end, on the bench's thread."""

import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Protocol

from sequences.alignment.advice import Order
from sequences.alignment.kept import Kept
from sequences.alignment.outcome import Phase, StepOutcome, Turning
from sequences.alignment.progress import Note, StepLeft, StepRecord
from sequences.alignment.standing import Standing
from sequences.engine.events import Asked, Event, Guidance, RunEnded, SourceChanged
from sequences.errors import Stopped
from sequences.plan.content import Step, Way, WayName
from sequences.plan.order import Plan
from sequences.receiver.model import Receiver
from server.alignment.log import JobLog
from server.alignment.remembering_person import RememberingPerson
from server.alignment.walk import AlignmentWalk, Workplace
from server.alignment.web_person import Question, WebPerson, WishOrStop
from server.bench.file import SourceEntry
from server.bench.live_feed import LiveFeed
from server.bench.worker import Desk
from server.plain import to_plain
from server.records.jobs import OPEN
from server.records.store import Store


@dataclass(frozen=True, slots=True)
class StepOrder:
    """A step to be done, checked. `way` is how it is measured, whether it was begun already or is begun now."""

    job_id: int
    receiver: Receiver
    plan: Plan
    step: Step
    way: WayName
    turning: Turning
    source: SourceEntry | None


class Readying(Protocol):
    """Brings the bench to where the job left it."""

    def seed_for(self, receiver_id: str) -> int | None:
        """Give the seed of the practice bench, having checked that it has that receiver; None where all are real."""

    def show(self, job_id: int, receiver: Receiver) -> None:
        """Put the receiver of a new job on the practice bench."""

    def ready(self, job_id: int, receiver: Receiver, ask: Callable[[Asked], str]) -> Standing:
        """Say which leads and controls stand; `ask` is for what only the person can know."""

    def follow(self, job_id: int, took: Callable[[Asked], None], heard: Callable[[], None]) -> None:
        """From here on report what hands do on their own, and that somebody is there."""

    def mark(self, asked: Asked) -> Asked:
        """Give the question as it is kept."""

    def end(self) -> None:
        """The session is over."""


@dataclass(frozen=True, slots=True)
class SessionTools:
    """What every session of a service is made with. `numbers` are those of the questions."""

    store: Store
    feed: LiveFeed
    readying: Readying
    numbers: Iterator[int]
    monotonic_s: Callable[[], float] = time.monotonic
    now_s: Callable[[], float] = time.time


class StepSession:
    """Runs as found, asks what to do, adjusts, runs as left, until the step has ended or is stopped."""

    def __init__(self, order: StepOrder, tools: SessionTools) -> None:
        """Hold what is to be done; nothing happens before `carry_out`."""
        self.order = order
        self.person: WebPerson | None = None
        self.over = False
        self._tools = tools
        self._desk: Desk | None = None
        self._leave: str | None = None
        self._view: dict[str, Any] = {
            "job": order.job_id,
            "step": order.step.id,
            "title": order.step.title,
            "phase": None,
            "way": order.way.value,
            "turning": order.turning.value,
            "run": None,
            "asked": None,
        }

    @property
    def phase(self) -> str | None:
        """What the run that is on is for; None between runs."""
        return None if self._view["run"] is None else self._view["phase"]

    def first_view(self) -> dict[str, Any]:
        """Give what the bench's view shows before it has begun."""
        return self._view

    def leave(self, reason: str) -> None:
        """Leave the step as it is: the session ends."""
        self._leave = reason
        if self._desk is not None:
            self._desk.stop.set()

    def carry_out(self, desk: Desk) -> str | None:
        """Do the step; give the sentence for the person where something else than the person ended it.

        Raises:
            ServerError: the record, the bench or the hands failed.
            SequenceError: the same.
        """
        self._desk = desk
        person = WebPerson(desk.stop, self._tools.numbers, self._asked, self._tools.monotonic_s)
        self.person = person
        try:
            self._walk(desk, person)
        except Stopped:
            self._note_left()
            return person.ended_because
        finally:
            self._let_go()
        return None

    def _walk(self, desk: Desk, person: WebPerson) -> None:
        if self._leave is not None:
            raise Stopped(self._leave)
        order, tools = self.order, self._tools
        cards = [to_plain(card) for card in desk.bench.instruments]
        tools.store.change_job(order.job_id, state=OPEN, instruments=cards)
        standing = tools.readying.ready(order.job_id, order.receiver, self._ask)
        log = _SessionLog(self)
        remembering = RememberingPerson(person, log, standing, lambda _: None)
        kept = Kept(tools.monotonic_s)

        def took(deed: Asked) -> None:
            """Be told what hands did unasked: what was measured before may not hold any more."""
            kept.forget_figures()
            remembering.took(deed)

        tools.readying.follow(order.job_id, took, person.heard)
        place = Workplace(
            receiver=order.receiver,
            plan=order.plan,
            bench=desk.bench,
            source=order.source,
            person=remembering,
            stop=WishOrStop(person, desk.stop),
            clock=desk.clock,
            now_s=tools.now_s,
            turning=order.turning,
            kept=kept,
        )
        AlignmentWalk(place, log, _Screen(self), tools.store.progress(order.job_id)).do(order.step, order.way)

    def _note_left(self) -> None:
        """Note that the step was left as it is, where that is why it was stopped."""
        if self._leave is not None:
            self._tools.store.note(self.order.job_id, StepLeft(self.order.step.id, self._leave))

    def _let_go(self) -> None:
        self.over = True
        try:
            self._tools.readying.end()
            self._tools.store.release(self.order.job_id)
        finally:
            self.publish_job()

    # What the log, the screen and the person have shown.

    def show(self, **changes: Any) -> None:  # noqa: ANN401 - the fields of a view
        """Change the session's own view."""
        self._view = {**self._view, **changes}
        if self._desk is not None:
            self._desk.show(session=self._view)

    def _asked(self, question: Question | None) -> None:
        self.show(asked=None if question is None else question.to_plain())

    def _ask(self, asked: Asked) -> str:
        """Ask what only counts for this session."""
        assert self.person is not None  # noqa: S101 - the session has begun
        answer = self.person.answer(asked)
        self.person.answer_is_kept()
        return answer

    def keep_answer(self, keep: Callable[[Asked, str], None], asked: Asked, answer: str) -> None:
        """Keep an answer, and let whoever gave it know."""
        keep(self._tools.readying.mark(asked), answer)
        if self.person is not None:
            self.person.answer_is_kept()

    def publish_job(self) -> None:
        """Let every page know that the job changed."""
        self._tools.feed.publish({"job": self.order.job_id})

    def job_log(self, tell: Callable[[int, int, Event], None]) -> JobLog:
        """Give the log of the job in the record."""
        return JobLog(self._tools.store, self.order.job_id, self._instruments, tell)

    def _instruments(self) -> list[dict[str, Any]]:
        return [] if self._desk is None else [to_plain(card) for card in self._desk.bench.instruments]

    def tell(self, run_id: int, seq: int, event: Event) -> None:
        """Publish an event that is on disk, and follow how the source stands."""
        self._tools.feed.publish(
            {"run": run_id, "seq": seq, "event": {"kind": type(event).__name__, **to_plain(event)}}
        )
        if isinstance(event, Guidance) and self.person is not None:
            self.person.require_attended()
        elif isinstance(event, SourceChanged):
            self._source_is(event.output_on)
        elif isinstance(event, RunEnded):
            self._run_is(running=False)
            self._view = {**self._view, "run": None}
            self._source_is(False if event.output_off else None, busy_run=None, session=self._view)

    def run_began(self, run_id: int) -> None:
        """Show which run is on."""
        self._run_is(running=True)
        self._view = {**self._view, "run": run_id}
        if self._desk is not None:
            self._desk.show(busy_run=run_id, session=self._view)

    def _run_is(self, *, running: bool) -> None:
        if self.person is not None:
            self.person.run_is(running)

    def _source_is(self, output_on: bool | None, **changes: Any) -> None:  # noqa: ANN401 - the fields of a view
        if self.person is not None:
            self.person.source_is(output_on is not False)
        if self._desk is not None:
            self._desk.show(output_on=output_on, **changes)


class _SessionLog:
    """Writes into the job, and tells every page once it is on disk."""

    def __init__(self, session: StepSession) -> None:
        self._session = session
        self._log = session.job_log(session.tell)

    def note(self, note: Note) -> None:
        self._log.note(note)
        self._session.publish_job()

    def begin_run(self, step: Step, way: Way, phase: Phase) -> None:
        self._log.begin_run(step, way, phase)
        assert self._log.run_id is not None  # noqa: S101 - it has just begun
        self._session.run_began(self._log.run_id)

    def event(self, event: Event) -> None:
        self._log.event(event)

    def answered(self, asked: Asked, answer: str) -> None:
        self._session.keep_answer(self._log.answered, asked, answer)


class _Screen:
    """Shows a page what the walk does; what a run emits and what a step comes to, it reads from stream and record."""

    def __init__(self, session: StepSession) -> None:
        self._session = session

    def step(self, step: Step, way: Way, order: Order, warnings: tuple[str, ...]) -> None:
        """Show nothing: the job says it."""

    def refused(self, step: Step, reasons: tuple[str, ...]) -> None:
        """Show nothing: the job says it."""

    def phase(self, _step: Step, phase: Phase) -> None:
        """Show what the run is for."""
        self._session.show(phase=phase.value)

    def event(self, event: Event) -> None:
        """Show nothing: the stream carries it."""

    def outcome(self, outcome: StepOutcome) -> None:
        """Show nothing: the job says it."""

    def ended(self, step: Step, record: StepRecord) -> None:
        """Show nothing: the job says it."""
