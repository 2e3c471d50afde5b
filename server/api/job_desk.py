"""What can be done with jobs over HTTP: begin and describe them, begin their steps, answer, signal, leave."""

from contextlib import suppress
from typing import Any

from sequences.alignment.advice import roles_of, ways_at_hand
from sequences.alignment.outcome import Phase, Turning
from sequences.alignment.progress import StepLeft, StepRecord
from sequences.engine.events import Asked
from sequences.plan.content import Step, WayName
from sequences.receiver.model import Receiver
from server.alignment.plan_shelf import Planned, PlanShelf
from server.alignment.session import SessionTools, StepOrder, StepSession
from server.alignment.web_person import NOTHING_RUNS, WebPerson
from server.api.job_orders import BeginOrder, JobChange, JobOrder
from server.api.job_views import JobState, job_view, may_begin, other_is_on
from server.bench.worker import BenchWorker
from server.errors import BenchBusy, InstrumentMissing, OrderRefused, OutOfOrder, StaleRequest, UnknownThing
from server.receiver_list import ReceiverList
from server.records.database import Row
from server.records.jobs import DONE, OPEN, NewJob
from server.settings import Settings

END_OF_SESSION_S = 10.0
"""How long leaving a step waits for the run to end."""

ANSWER_KEPT_S = 5.0
"""How long an answer may take to the disk before its sender hears of it all the same."""

NOTHING_WAITS = "No question waits for an answer; look at the bench again."
NOTHING_TURNED = "Nothing is being adjusted now, so there is nothing to signal."


class JobDesk:
    """Safe to use from several threads."""

    def __init__(
        self,
        settings: Settings,
        tools: SessionTools,
        worker: BenchWorker,
        receivers: ReceiverList,
    ) -> None:
        """Work with jobs.

        Args:
            settings: what the service was started with.
            tools: what sessions are made with.
            worker: who carries them out.
            receivers: those a job can be begun for.
        """
        self._settings = settings
        self._tools = tools
        self._store = tools.store
        self._worker = worker
        self._receivers = receivers
        self._shelf = PlanShelf(settings.bench_file.source)
        self._session: StepSession | None = None

    # Jobs as a whole.

    def create(self, order: JobOrder) -> int:
        """Enter a new job and give its number.

        Raises:
            UnknownThing: there is no such receiver.
            OrderRefused: the practice bench has none.
        """
        file = self._receivers[order.receiver_id]
        said = order.model_dump(exclude={"receiver_id"})
        new = NewJob(
            receiver_id=file.receiver.id,
            receiver_name=file.receiver.name,
            receiver_file=file.text,
            mode=self._settings.mode,
            seed=self._tools.readying.seed_for(file.receiver.id),
            instruments=list(self._worker.view().instruments),
            **said,
        )
        job_id = self._store.begin_job(new)
        self._show_receiver(job_id, file.receiver)
        self.changed(job_id)
        return job_id

    def _show_receiver(self, job_id: int, receiver: Receiver) -> None:
        """Put the receiver of a new job on the practice bench, where nothing else is on."""
        with suppress(BenchBusy):
            self._worker.require_idle()
            self._tools.readying.show(job_id, receiver)

    def change(self, job_id: int, change: JobChange) -> None:
        """Change what is said of a job.

        Raises:
            BenchBusy: it is to be closed while a step of it is on.
        """
        session = self._on()
        if change.state != OPEN and session is not None and session.order.job_id == job_id:
            raise BenchBusy(f"The step '{session.order.step.title}' is on; stop it before the job is {change.state}.")
        self._store.change_job(job_id, **change.model_dump(exclude_unset=True))
        self.changed(job_id)

    def view(self, job_id: int) -> dict[str, Any]:
        """Give a job with all its steps.

        Raises:
            UnknownThing: there is no such job.
        """
        return job_view(self._state(self._store.job(job_id)))

    def changed(self, job_id: int) -> None:
        """Let every page know that a job changed."""
        self._tools.feed.publish({"job": job_id})

    def require_step(self, job_id: int, step_id: str | None) -> None:
        """Refuse a step that the job's plan does not have; None is the job as a whole.

        Raises:
            UnknownThing: there is no such job or step.
        """
        job = self._store.job_header(job_id)
        if step_id is not None:
            _find(self._shelf.of(job), step_id)

    def _state(self, job: Row) -> JobState:
        progress = self._store.progress(job["id"])
        planned = self._shelf.of(job)
        return JobState(job, planned.receiver, planned.plan, progress, self._roles(), self._tools.now_s())

    def _roles(self) -> frozenset[str]:
        cards = self._worker.view().instruments
        return frozenset(card["role"] for card in cards if card["state"] == "ready")

    # Steps.

    def begin(self, job_id: int, step_id: str, order: BeginOrder) -> str | None:
        """Begin a step, or go on with it where it was.

        Returns:
            That the job was taken over, where another program that is gone had it in hand.

        Raises:
            UnknownThing: there is no such job or step.
            OutOfOrder: its turn has not come, or the job is over or of another bench.
            InstrumentMissing: the bench cannot measure it.
            JobInUse: another program has the job in hand.
            BenchBusy: something else is on.
        """
        job = self._store.job_header(job_id)
        self._require_workable(job)
        planned = self._shelf.of(job)
        step = _find(planned, step_id)
        way = self._way(self._state(job), step, order)
        step_order = StepOrder(
            job_id=job_id,
            receiver=planned.receiver,
            plan=planned.plan,
            step=step,
            way=way,
            turning=Turning(order.turning),
            source=self._settings.bench_file.source,
        )
        return self._hold(StepSession(step_order, self._tools))

    def _require_workable(self, job: Row) -> None:
        if job["mode"] != self._settings.mode:
            where = "the practice bench" if job["mode"] == "practice" else "a bench of instruments"
            raise OutOfOrder(f"Job {job['id']} is of {where}; go on with it there.")
        if job["state"] == DONE:
            raise OutOfOrder(f"Job {job['id']} is done; open it again first.")
        self._tools.readying.seed_for(job["receiver_id"])

    def _way(self, state: JobState, step: Step, order: BeginOrder) -> WayName:
        """Give the way the step is measured: the one it was begun in, or the one that is asked for."""
        current = state.progress.current
        if current is not None and current.step_id != step.id:
            raise OutOfOrder(other_is_on(state.plan, current))
        refused, _ = may_begin(state, step)
        chosen = _named_way(step, order.way) or _way_begun(current) or _first_way(step, state.roles)
        if refused:
            raise OutOfOrder(" ".join(refused)) if ways_at_hand(step, state.roles) else InstrumentMissing(refused[-1])
        _check_way(step, chosen, current, state.roles)
        return chosen

    def _hold(self, session: StepSession) -> str | None:
        job_id = session.order.job_id
        before = self._on()
        told = self._store.claim(job_id)
        try:
            self._worker.begin_session(session)
        except Exception:
            if before is None or before.order.job_id != job_id:
                self._store.release(job_id)
            raise
        self._session = session
        return told

    def leave(self, job_id: int, step_id: str, reason: str) -> None:
        """Leave a step as it is.

        Raises:
            UnknownThing: there is no such job or step.
            OutOfOrder: another step of the job is not finished.
            JobInUse: another program has the job in hand.
        """
        session = self._on()
        if session is not None and (session.order.job_id, session.order.step.id) == (job_id, step_id):
            session.leave(reason)
            self._worker.wait_until_idle(END_OF_SESSION_S)
            return
        planned = self._shelf.of(self._store.job_header(job_id))
        step = _find(planned, step_id)
        current = self._store.progress(job_id).current
        if current is not None and current.step_id != step.id:
            raise OutOfOrder(other_is_on(planned.plan, current))
        self._store.claim(job_id)
        try:
            self._store.note(job_id, StepLeft(step.id, reason))
        finally:
            self._store.release(job_id)
        self.changed(job_id)

    # The session that is on.

    def _on(self) -> StepSession | None:
        session = self._session
        return None if session is None or session.over else session

    def answer(self, number: int, answer: str) -> None:
        """Answer the question that waits; the answer is on disk when this returns, and is not asked for again.

        Raises:
            StaleRequest: it no longer waits.
            OrderRefused: it is not one of its answers.
        """
        person = self._person(NOTHING_WAITS)
        person.give_answer(number, answer)
        person.wait_until_kept(number, ANSWER_KEPT_S)

    def question(self, number: int) -> Asked:
        """Give the question that waits.

        Raises:
            StaleRequest: it no longer waits.
        """
        return self._person(NOTHING_WAITS).require(number)

    def signal(self, signal: str) -> None:
        """Signal to the adjusting that is under way.

        Raises:
            StaleRequest: nothing is being adjusted.
        """
        session = self._on()
        if session is None or session.phase != Phase.ADJUST.value:
            raise StaleRequest(NOTHING_TURNED)
        self._person(NOTHING_TURNED).give_signal(signal)

    def again(self) -> None:
        """Begin the run that is on again from its beginning.

        Raises:
            StaleRequest: none is on.
        """
        self._person(NOTHING_RUNS).give_again()

    def _person(self, otherwise: str) -> WebPerson:
        session = self._on()
        if session is None or session.person is None:
            raise StaleRequest(otherwise)
        return session.person


def _find(planned: Planned, step_id: str) -> Step:
    try:
        return planned.plan.step(step_id)
    except KeyError:
        known = ", ".join(step.id for step in planned.plan.steps)
        raise UnknownThing(f"{planned.receiver.name} has no step '{step_id}'; its steps are {known}.") from None


def _named_way(step: Step, name: str | None) -> WayName | None:
    if name is None:
        return None
    known = {way.name.value: way.name for way in step.ways}
    if name not in known:
        raise OrderRefused(f"'{step.title}' has no way '{name}'; it has {', '.join(known)}.")
    return known[name]


def _way_begun(current: StepRecord | None) -> WayName | None:
    return None if current is None else current.way


def _first_way(step: Step, roles: frozenset[str]) -> WayName:
    at_hand = ways_at_hand(step, roles)
    return (at_hand or step.ways)[0].name


def _check_way(step: Step, chosen: WayName, current: StepRecord | None, roles: frozenset[str]) -> None:
    """Refuse a way that the bench has no instruments for, or another than the one the step was begun in."""
    if current is not None and current.way is not None and current.way is not chosen:
        raise OutOfOrder(
            f"'{step.title}' was begun by the way '{current.way}'; go on with that, or leave the step first."
        )
    missing = sorted(roles_of(step.way(chosen)) - roles)
    if missing:
        raise InstrumentMissing(
            f"'{step.title}' by the way '{chosen}' needs a {' and a '.join(missing)}, and the bench has none ready."
        )
