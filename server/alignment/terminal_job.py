"""One alignment from the command line: opens record and bench, goes on where an earlier one stopped, and walks."""

import time
from collections.abc import Callable, Generator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from rich.console import Console

from sequences.alignment.advice import order_of
from sequences.alignment.kept import Kept
from sequences.alignment.outcome import Turning
from sequences.alignment.progress import next_step
from sequences.alignment.standing import Standing, nothing_stands
from sequences.engine import asks
from sequences.engine.events import in_words
from sequences.engine.questions import Choose
from sequences.engine.run import Person
from sequences.errors import Stopped
from sequences.kinds import alignment_plan
from sequences.receiver.file import ReceiverFile, ReceiverFileError, load_receiver_file
from sequences.receiver.model import Receiver
from server.alignment.choice import ChosenJob, Wanted, choose_job, is_over
from server.alignment.log import JobLog
from server.alignment.remembering_person import RememberingPerson, standing_after
from server.alignment.walk import AlignmentWalk, Workplace, held_to_ceiling
from server.alignment.wishes import StopHere
from server.bench.file import BenchFile, read_bench_file
from server.bench.guarded_bench import GuardedBench, closing_off
from server.bench.guardian import guarded
from server.bench.output_ledger import OutputLedger
from server.bench.readying import STILL_STANDS, YES
from server.bench.run_clock import RunClock
from server.bench.stop_switch import StopSwitch, stop_on_signals
from server.errors import AlignmentStopped, BenchError, OrderRefused, ReceiverListError
from server.plain import to_plain
from server.practice.deeds import do_again, turned
from server.practice.hands import Hands
from server.practice.person import PracticePerson
from server.practice.process import practice_bench
from server.practice.turner import PracticeTurner
from server.records.database import Row
from server.records.jobs import DONE, OPEN, PAUSED, NewJob
from server.records.store import Store
from server.settings import Mode, default_store_path
from server.terminal.align_screen import AlignScreen
from server.terminal.person import TerminalPerson
from server.wiring import open_bench

RESUME, ANEW = "resume", "begin anew"
GO_ON = "Give the same command again to go on from there."


@dataclass(frozen=True, slots=True)
class AlignOrder:
    """What the command line asked for. `bench` is None on the practice bench, and only there the rest of it counts.

    `unattended`: the tool's own hands do what is asked and take what is proposed. `speed`: how many times as fast as
    real time the practice bench goes. `about`: what is said of the receiver and the bench, by the fields of a job.
    `job`: the number of the job to go on with.
    """

    file: Path
    bench: Path | None
    store: str | Path | None
    step: str | None
    seed: int
    unattended: bool
    speed: float
    about: dict[str, Any] = field(default_factory=dict)
    job: int | None = None
    turning: Turning = Turning.COUNTED

    @property
    def mode(self) -> Mode:
        """Say whether this is practice."""
        return "practice" if self.bench is None else "bench"


@dataclass(frozen=True, slots=True)
class _Instruments:
    """A bench as it was opened, with hands where it is the practice bench."""

    bench_file: BenchFile
    bench: GuardedBench
    hands: Hands | None


def carry_out_alignment(
    order: AlignOrder,
    console: Console,
    read_line: Callable[[str], str],
    glance: Callable[[], str | None] = lambda: None,
) -> None:
    """Walk the plan of a receiver, or do one step of it; `read_line` and `glance` give what is typed.

    Raises:
        ServerError: it cannot begin or go on, or a signal stopped it; the sentence says why. The source is off.
    """
    file = find_receiver_file(order.file)
    known = [step.id for step in alignment_plan(file.receiver).steps]
    if order.step is not None and order.step not in known:
        raise OrderRefused(f"{file.receiver.name} has no step '{order.step}'; its steps are {', '.join(known)}.")
    with stop_on_signals() as stop, _record(order) as store:
        terminal = TerminalPerson(console, read_line, stop, glance)
        try:
            chosen = choose_job(store, _wanted(order, file), _Asker(order, terminal, console))
            with _instruments(order, chosen.file.receiver, store) as instruments:
                _Job(order, chosen, store, instruments, console, terminal, stop).carry_out()
        except StopHere:
            console.print(f"Stopped. {GO_ON}", highlight=False)
        except (Stopped, KeyboardInterrupt):
            raise AlignmentStopped(f"The alignment was stopped; the source's output is off. {GO_ON}") from None


def find_receiver_file(file: Path) -> ReceiverFile:
    """Read a receiver file.

    Raises:
        ReceiverListError: there is none, or it cannot be used.
    """
    try:
        return load_receiver_file(file)
    except ReceiverFileError as error:
        raise ReceiverListError(str(error)) from error


@contextmanager
def _record(order: AlignOrder) -> Generator[Store]:
    store = Store(order.store or default_store_path(order.mode))
    try:
        yield store
    finally:
        store.close()


def _wanted(order: AlignOrder, file: ReceiverFile) -> Wanted:
    seed = order.seed if order.bench is None else None
    return Wanted(file, order.mode, seed, order.about.get("serial"), order.job)


@dataclass(frozen=True, slots=True)
class _Asker:
    """Finds out whether to go on with a job that was found."""

    order: AlignOrder
    terminal: TerminalPerson
    console: Console

    def __call__(self, found: ChosenJob, job: Row) -> bool:
        if self.order.step is not None:
            return True
        if is_over(job):
            return False
        steps = len(alignment_plan(found.file.receiver).steps)
        serial = f", serial {job['serial']}" if job["serial"] else ""
        which = f"job {found.number}, begun on {job['started_utc'][:10]}{serial}"
        done = len(found.progress.latest)
        text = f"An alignment of {job['receiver_name']} ({which}) stopped after {done} of {steps} steps."
        if self.order.unattended:
            self.console.print(f"{text} Going on with it.", markup=False, highlight=False)
            return True
        return self.terminal.answer(in_words(Choose("resume"), text, (RESUME, ANEW))) == RESUME


@contextmanager
def _instruments(order: AlignOrder, receiver: Receiver, store: Store) -> Generator[_Instruments]:
    if order.bench is not None:
        bench_file = read_bench_file(order.bench)
        with _opened(bench_file, store, real=True) as bench:
            yield _Instruments(bench_file, bench, None)
        return
    with practice_bench(["--seed", str(order.seed), "--speed", f"{order.speed:g}"]) as practice:
        practice.hands.do({"do": "receiver", "id": receiver.id})
        with _opened(practice.bench_file, store, real=False) as bench:
            yield _Instruments(practice.bench_file, bench, practice.hands)


@contextmanager
def _opened(bench_file: BenchFile, store: Store, *, real: bool) -> Generator[GuardedBench]:
    with (
        guarded(bench_file.source if real else None) as guardian,
        closing_off(GuardedBench(open_bench(bench_file), OutputLedger(store, guardian=guardian))) as bench,
    ):
        bench.make_safe()  # and with it whatever the record says may still be on
        cards = bench.instruments
        if all(card.state != "ready" for card in cards):
            raise BenchError(" ".join(card.detail or f"The {card.role} does not answer." for card in cards))
        yield bench


class _Job:
    """One receiver on the bench."""

    def __init__(
        self,
        order: AlignOrder,
        chosen: ChosenJob,
        store: Store,
        instruments: _Instruments,
        console: Console,
        terminal: TerminalPerson,
        stop: StopSwitch,
    ) -> None:
        self._order = order
        self._chosen = chosen
        self._store = store
        self._receiver = held_to_ceiling(chosen.file.receiver, instruments.bench_file.source)
        self._plan = alignment_plan(self._receiver)
        self._instruments = instruments
        self._screen = AlignScreen(console, self._plan)
        self._stop = stop
        self._terminal = terminal

    def _who(self, log: JobLog) -> Person:
        hands = self._instruments.hands
        if hands is None:
            return self._terminal
        turner = PracticeTurner(hands, lambda name, turns: log.answered(turned(name, turns), asks.DONE))
        self._screen.watched_by(turner.see)
        return PracticePerson(hands, None if self._order.unattended else self._terminal, turner)

    def carry_out(self) -> None:
        """Go on where it stopped, or begin."""
        self._check_order()
        number = self._take_in_hand()
        log = JobLog(self._store, number, self._cards)
        walk: AlignmentWalk | None = None
        try:
            standing = self._standing()
            if self._chosen.told is not None:
                self._screen.say(self._chosen.told)
            self._screen.say(f"This is job {number}; the record is {self._store.place.shown}.")
            self._show_missing()
            person = RememberingPerson(self._who(log), log, standing, self._screen.passed)
            walk = AlignmentWalk(self._place(person), log, self._screen, self._chosen.progress)
            self._walk(walk)
        finally:
            over = walk is not None and next_step(self._plan, walk.progress) is None
            self._store.change_job(number, state=DONE if over else PAUSED)
            self._store.release(number)

    def _walk(self, walk: AlignmentWalk) -> None:
        if self._order.step is None:
            walk.to_the_end()
            self._screen.summary(self._plan, walk.progress)
        else:
            walk.do(self._plan.step(self._order.step))

    def _check_order(self) -> None:
        """Refuse to do one step where another is on, or where its turn has not come."""
        progress = self._chosen.progress
        if self._order.step is None:
            return
        if progress.current is not None and progress.current.step_id != self._order.step:
            raise OrderRefused(
                f"The step '{progress.current.step_id}' is not finished; go on with it before any other."
            )
        order = order_of(self._plan, progress, self._order.step)
        if order.refused:
            raise OrderRefused(f"Out of order: {' '.join(order.reasons)}")

    def _take_in_hand(self) -> int:
        number = self._chosen.number
        if number is None:
            number = self._store.begin_job(self._new())
            self._store.claim(number)
        self._store.change_job(number, state=OPEN, instruments=self._cards(), **self._order.about)
        return number

    def _new(self) -> NewJob:
        receiver = self._chosen.file.receiver
        return NewJob(
            receiver_id=receiver.id,
            receiver_name=receiver.name,
            receiver_file=self._chosen.file.text,
            mode=self._order.mode,
            seed=self._order.seed if self._instruments.hands is not None else None,
        )

    def _cards(self) -> list[dict[str, Any]]:
        return [to_plain(card) for card in self._instruments.bench.instruments]

    def _standing(self) -> Standing:
        """Say what stands. The practice receiver comes up afresh, and is brought to where the person left it."""
        nothing = nothing_stands(self._receiver)
        standing = standing_after(nothing, self._chosen.answers)
        if self._instruments.hands is not None:
            do_again(self._instruments.hands, self._chosen.answers)
            return standing
        if standing != nothing and self._terminal.answer(STILL_STANDS) == YES:
            return standing
        return nothing

    def _show_missing(self) -> None:
        for card in self._instruments.bench.instruments:
            if card.state != "ready":
                self._screen.say(f"The {card.role} is missing: {card.detail or 'it does not answer.'}")

    def _place(self, person: Person) -> Workplace:
        return Workplace(
            receiver=self._receiver,
            plan=self._plan,
            bench=self._instruments.bench,
            source=self._instruments.bench_file.source,
            person=person,
            stop=self._stop,
            clock=RunClock(self._stop, self._order.speed),
            now_s=time.time,
            turning=self._order.turning,
            kept=Kept(time.monotonic),
        )
