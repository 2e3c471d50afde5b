"""The practice bench as a person at the page works on it: turning, setting, connecting, and what is kept of it.

Each job has a receiver of its own: where a job goes on, its receiver is put back to where the job left it.
"""

from collections import defaultdict
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from threading import RLock
from typing import Any

from sequences.alignment.standing import Standing, nothing_stands
from sequences.engine.asks import DONE
from sequences.engine.events import Asked
from sequences.engine.questions import TURN, Choose, ConnectLeads, Lead, SetControl, TurnBy
from sequences.receiver.hookups import Hookup
from sequences.receiver.model import Receiver
from server.alignment.remembering_person import standing_after
from server.errors import HandsRefused, OrderRefused, PracticeError
from server.practice.deeds import by_hand, connected, control_set, do_again, turned
from server.practice.hands import Hands, controls_to, lead_to
from server.practice.person import do_on_practice_bench
from server.records.jobs import DONE as JOB_DONE
from server.records.notes import Answered
from server.records.store import Store

"""What is asked of hands; the rest is asked of the head."""


@dataclass(slots=True)
class _Hand:
    """The turns of one adjuster that are not kept yet."""

    adjuster: str | None = None
    turns: float = 0.0


@dataclass(slots=True)
class _Context:
    """The job whose receiver stands on the bench, and who wants to know what hands do to it."""

    job_id: int | None = None
    receiver_id: str | None = None
    took: Callable[[Asked], None] | None = None
    heard: Callable[[], None] | None = None
    hand: _Hand = field(default_factory=_Hand)


class PracticeFloor:
    """Safe to use from several threads."""

    def __init__(self, hands: Hands, store: Store) -> None:
        """Work with the hands of a practice bench that has just come up."""
        self._hands = hands
        self._store = store
        self._lock = RLock()
        self._context = _Context()
        self._receiver_id = ""
        self._made: dict[str, dict[str, float]] = defaultdict(dict)
        """Turns made so far on the present unit of each receiver."""

    # What the page asks.

    def describe(self) -> dict[str, Any]:
        """Say what stands on the bench, where leads and controls are, and how far each adjuster was turned so far."""
        with self._lock:
            (told,) = self._hands.do({"do": "describe"})
            receiver = told["receiver"]
            self._receiver_id = receiver["id"]
            made = self._made[receiver["id"]]
            adjusters = [{**one, "made_turns": made.get(one["name"], 0.0)} for one in receiver["adjusters"]]
            return {
                **{name: value for name, value in told.items() if name != "ok"},
                "receiver": {**receiver, "adjusters": adjusters},
                "job": self._context.job_id,
            }

    def truth(self) -> dict[str, Any]:
        """Give everything about the receiver as it stands."""
        (told,) = self._hands.do({"do": "truth"})
        truth: dict[str, Any] = told["truth"]
        return truth

    def seed_for(self, receiver_id: str) -> int:
        """Give the seed of the bench.

        Raises:
            OrderRefused: the bench has no such receiver.
        """
        (told,) = self._hands.do({"do": "describe"})
        known = [one["id"] for one in told["receivers"]]
        if receiver_id not in known:
            raise OrderRefused(f"The practice bench has no receiver '{receiver_id}'; it has {', '.join(known)}.")
        return int(told["seed"])

    # What hands do.

    def turn(self, adjuster: str, turns: float) -> float:
        """Turn an adjuster and give how far it moved.

        Raises:
            HandsRefused: there is no such adjuster.
            PracticeError: the bench is gone.
        """
        with self._deed():
            (told,) = self.do({"do": "turn", "adjuster": adjuster, "turns": turns})
            moved = float(told["moved_turns"])
            if self._context.took is not None:
                self._context.took(turned(adjuster, moved))
            self._keep_turns(adjuster, moved)
            return moved

    def set_control(self, control: str, to: str | float) -> None:
        """Set a control.

        Raises:
            HandsRefused: there is no such control or place on it.
            PracticeError: the bench is gone.
        """
        with self._deed():
            self._hands.do(*controls_to({control: to}))
            self.flush()
            self._took(control_set(control, to))

    def connect(self, role: str, to: str | None, through: str | None) -> None:
        """Move a lead, or take it off.

        Raises:
            HandsRefused: there is no such lead or point.
            PracticeError: the bench is gone.
        """
        with self._deed():
            _, told = self._hands.do(lead_to(role, to, through), {"do": "describe"})
            self.flush()
            leads = {role: Lead(lead["to"], lead["through"]) for role, lead in told["leads"].items()}
            self._took(connected(leads))

    def carry_out(self, asked: Asked) -> str:
        """Do what a question asks and give the answer a person would; a choice takes what is proposed.

        Raises:
            OrderRefused: that is done by hand alone.
            HandsRefused: it cannot be done.
            PracticeError: the bench is gone.
        """
        question = asked.question
        if asked.action == TURN and not isinstance(question, TurnBy):
            raise OrderRefused(f"How far {asked.subject} goes shows only while it is turned: turn it by hand.")
        if not isinstance(question, ConnectLeads | SetControl | TurnBy):
            return asked.answers[0] if asked.answers else ""
        with self._deed():
            self.flush()
            before = self._made_turns(asked.subject)
            answer = do_on_practice_bench(self, asked)
            self._took(_done(asked, self._made_turns(asked.subject) - before))
            return answer

    def hook_up(self, receiver_id: str, hookup: Hookup) -> None:
        """Put a receiver on the bench and hook it up, for a scan that belongs to no job."""
        with self._lock:
            self.flush()
            self._hands.hook_up(receiver_id, hookup)
            self._receiver_id = receiver_id

    def reseed(self, seed: int, receiver_id: str) -> None:
        """Put another misaligned unit of a receiver on the bench; it belongs to no job yet.

        Raises:
            OrderRefused: the bench has no such receiver.
        """
        with self._lock:
            self.seed_for(receiver_id)
            self._put(receiver_id, seed)
            self._context = _Context()

    # What a session asks.

    def resume(self) -> None:
        """Put the receiver of the latest job that is not done back on a bench that has just come up with its seed.

        Raises:
            ServerError: it could not be brought there.
        """
        (told,) = self._hands.do({"do": "describe"})
        jobs = self._store.jobs()
        going_on = (job for job in jobs if (job["mode"], job["seed"]) == ("practice", told["seed"]))
        job = next(going_on, None)
        if job is not None and job["state"] != JOB_DONE:
            with self._lock:
                if self._context.job_id is None:
                    self._switch(job["id"], job["receiver_id"])

    def show(self, job_id: int, receiver: Receiver) -> None:
        """Put the receiver of a new job on the bench.

        Raises:
            PracticeError: the bench is gone.
        """
        with self._lock:
            self.flush()
            self._switch(job_id, receiver.id)

    def ready(self, job_id: int, receiver: Receiver, ask: Callable[[Asked], str]) -> Standing:  # noqa: ARG002 - nobody need be asked
        """Put the job's receiver on the bench as the job left it, and say which leads and controls stand.

        Raises:
            PracticeError: it could not be brought there.
        """
        with self._lock:
            self.flush()
            answers = self._store.answers(job_id)
            standing = standing_after(nothing_stands(receiver), answers)
            if self._context.job_id != job_id:
                self._switch(job_id, receiver.id)
            self._put(receiver.id)
            self.do(*_as_standing(standing))
            return standing

    def _switch(self, job_id: int, receiver_id: str) -> None:
        """Bring another job's receiver on the bench. A new job takes it as the one before left it."""
        job, answers = self._store.job_header(job_id), self._store.answers(job_id)
        (told,) = self._hands.do({"do": "describe"})
        self._context = _Context()
        self._put(receiver_id, int(job["seed"]) if answers or told["seed"] != job["seed"] else None)
        self._put_back(answers)
        self._context = _Context(job_id, receiver_id)
        if not answers:
            for adjuster, turns in self._made[receiver_id].items():
                self._keep(turned(adjuster, turns))

    def _put_back(self, answers: list[Answered]) -> None:
        try:
            do_again(self, answers)
        except (PracticeError, HandsRefused) as error:
            sentence = f"The practice receiver could not be brought to where the job left it; begin a new job. {error}"
            raise PracticeError(sentence) from error

    def _put(self, receiver_id: str, seed: int | None = None) -> None:
        """Put a receiver on the bench; with a seed, another unit of it, which nobody has turned."""
        self._hands.do({"do": "receiver", "id": receiver_id})
        self._receiver_id = receiver_id
        if seed is not None:
            self._hands.do({"do": "reseed", "seed": seed})
            self._made.clear()

    def follow(self, job_id: int, took: Callable[[Asked], None], heard: Callable[[], None]) -> None:
        """From here on report what hands do, and that somebody is there."""
        with self._lock:
            self._context = _Context(job_id, self._context.receiver_id, took, heard)

    def mark(self, asked: Asked) -> Asked:
        """Keep the question as one whose deed is kept on its own."""
        self.flush()
        return asked if isinstance(asked.question, Choose) else by_hand(asked)

    def end(self) -> None:
        """The session is over; what hands do from here on still belongs to its job."""
        with self._lock:
            self.flush()
            self._context = _Context(self._context.job_id, self._context.receiver_id)

    # What is done and kept.

    def do(self, *tasks: dict[str, Any]) -> list[dict[str, Any]]:
        """Have tasks done, and count the turns made."""
        replies = self._hands.do(*tasks)
        for task, reply in zip(tasks, replies, strict=True):
            if task["do"] == "turn":
                made = self._made[self._receiver_id]
                made[task["adjuster"]] = made.get(task["adjuster"], 0.0) + float(reply["moved_turns"])
        return replies

    def _made_turns(self, adjuster: str) -> float:
        return self._made[self._receiver_id].get(adjuster, 0.0)

    @contextmanager
    def _deed(self) -> Iterator[None]:
        """Do one thing at a time; whoever does is there."""
        with self._lock:
            yield
            if self._context.heard is not None:
                self._context.heard()

    def _took(self, deed: Asked) -> None:
        """Let the session know what was done, and keep it."""
        if self._context.took is not None:
            self._context.took(deed)
        self._keep(deed)

    def _keep(self, deed: Asked) -> None:
        context = self._context
        if context.job_id is not None and context.receiver_id == self._receiver_id:
            self._store.answered(context.job_id, deed, DONE)

    def _keep_turns(self, adjuster: str, moved: float) -> None:
        hand = self._context.hand
        if hand.adjuster != adjuster:
            self.flush()
        hand.adjuster, hand.turns = adjuster, hand.turns + moved

    def flush(self) -> None:
        """Keep the turns that are not kept yet: a hand on a slug makes many a second, which are kept together."""
        with self._lock:
            hand = self._context.hand
            adjuster, turns = hand.adjuster, hand.turns
            hand.adjuster, hand.turns = None, 0.0
            if adjuster is not None and turns:
                self._keep(turned(adjuster, turns))


def _done(asked: Asked, moved_turns: float) -> Asked:
    """Give the deed that a question asked for, as it was done."""
    match asked.question:
        case ConnectLeads() as question:
            return connected(question.leads(), question.controls)
        case SetControl(control, to):
            return control_set(control, to)
    return turned(asked.subject, moved_turns)


def _as_standing(standing: Standing) -> list[dict[str, Any]]:
    """List what hands do so that leads and controls stand so."""
    leads = standing.leads or {}
    moved = [lead_to(role, lead.to, lead.through) for role, lead in leads.items()]
    return [*moved, *controls_to(standing.controls)]
