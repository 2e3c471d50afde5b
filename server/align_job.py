"""One alignment from the command line: opens bench and journal, goes on where an earlier one stopped, and walks."""

import time
from collections.abc import Callable, Generator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import reduce
from pathlib import Path

from rich.console import Console

from sequences.alignment.advice import order_of
from sequences.alignment.progress import Progress, noted
from sequences.alignment.standing import Standing, nothing_stands
from sequences.engine.events import Asked
from sequences.engine.run import Person
from sequences.errors import Stopped
from sequences.plan.order import alignment_plan
from sequences.receiver.file import ReceiverFileError, load_receiver, shipped_receivers
from sequences.receiver.model import Receiver
from server.align_screen import AlignScreen
from server.alignment_walk import AlignmentWalk, Workplace, held_to_ceiling
from server.bench_file import BenchFile, read_bench_file
from server.errors import AlignmentStopped, BenchError, JournalError, OrderRefused, ReceiverListError
from server.hands import Hands
from server.journal import Answered, JobBegan, Journal, Kept, journal_path, latest_journal
from server.practice import practice_bench
from server.practice_person import PracticePerson, do_on_practice_bench
from server.remembering_person import RememberingPerson, standing_after
from server.run_clock import RunClock
from server.settings import Mode, default_store_path
from server.stop_switch import StopSwitch, stop_on_signals
from server.terminal_person import StopHere, TerminalPerson
from server.wiring import OpenBench, open_bench

RESUME, ANEW = "resume", "begin anew"
YES, NO = "yes", "no"
GO_ON = "Give the same command again to go on from there."


@dataclass(frozen=True, slots=True)
class AlignOrder:
    """What the command line asked for. `bench` is None on the practice bench, and only there the rest of it counts.

    `unattended`: the tool's own hands do what is asked and take what is proposed. `speed`: how many times as fast as
    real time the practice bench goes.
    """

    file: Path
    bench: Path | None
    store: Path | None
    step: str | None
    seed: int
    unattended: bool
    speed: float

    @property
    def mode(self) -> Mode:
        """Say whether this is practice."""
        return "practice" if self.bench is None else "bench"


@dataclass(frozen=True, slots=True)
class _Instruments:
    """A bench as it was opened, with hands where it is the practice bench."""

    bench_file: BenchFile
    bench: OpenBench
    hands: Hands | None


def carry_out_alignment(order: AlignOrder, console: Console, read_line: Callable[[str], str]) -> None:
    """Walk the plan of a receiver, or do one step of it.

    Raises:
        ServerError: it cannot begin or go on, or a signal stopped it; the sentence says why. The source is off.
    """
    receiver = find_receiver_file(order.file)
    known = [step.id for step in alignment_plan(receiver).steps]
    if order.step is not None and order.step not in known:
        raise OrderRefused(f"{receiver.name} has no step '{order.step}'; its steps are {', '.join(known)}.")
    with stop_on_signals() as stop, _instruments(order, receiver) as instruments:
        job = _Job(order, receiver, instruments, console, TerminalPerson(console, read_line, stop), stop)
        try:
            job.carry_out()
        except StopHere:
            console.print(f"Stopped. {GO_ON}", highlight=False)
        except (Stopped, KeyboardInterrupt):
            raise AlignmentStopped(f"The alignment was stopped; the source's output is off. {GO_ON}") from None


def find_receiver_file(file: Path) -> Receiver:
    """Read a receiver file, or give a shipped receiver where its id is given in place of a file.

    Raises:
        ReceiverListError: there is none, or it cannot be used.
    """
    if not file.exists():
        for receiver in shipped_receivers():
            if receiver.id == str(file):
                return receiver
    try:
        return load_receiver(file)
    except ReceiverFileError as error:
        raise ReceiverListError(str(error)) from error


@contextmanager
def _instruments(order: AlignOrder, receiver: Receiver) -> Generator[_Instruments]:
    if order.bench is not None:
        bench_file = read_bench_file(order.bench)
        with _opened(bench_file) as bench:
            yield _Instruments(bench_file, bench, None)
        return
    with practice_bench(["--seed", str(order.seed), "--speed", f"{order.speed:g}"]) as practice:
        practice.hands.do({"do": "receiver", "id": receiver.id})
        with _opened(practice.bench_file) as bench:
            yield _Instruments(practice.bench_file, bench, practice.hands)


@contextmanager
def _opened(bench_file: BenchFile) -> Generator[OpenBench]:
    bench = open_bench(bench_file)
    try:
        cards = bench.instruments
        if all(card.state != "ready" for card in cards):
            raise BenchError(" ".join(card.detail or f"The {card.role} does not answer." for card in cards))
        yield bench
    finally:
        bench.close()


class _Job:
    """One receiver on the bench."""

    def __init__(
        self,
        order: AlignOrder,
        receiver: Receiver,
        instruments: _Instruments,
        console: Console,
        terminal: TerminalPerson,
        stop: StopSwitch,
    ) -> None:
        self._order = order
        self._receiver = held_to_ceiling(receiver, instruments.bench_file.source)
        self._plan = alignment_plan(self._receiver)
        self._instruments = instruments
        self._screen = AlignScreen(console, self._plan)
        self._stop = stop
        self._terminal = terminal
        self._person = self._who()

    def _who(self) -> Person:
        hands = self._instruments.hands
        if hands is None:
            return self._terminal
        return PracticePerson(hands, None if self._order.unattended else self._terminal)

    def carry_out(self) -> None:
        """Go on where it stopped, or begin."""
        path, kept = self._find_journal()
        progress = self._progress(path, kept)
        self._check_order(progress)
        with Journal(path, now=lambda: datetime.now(UTC)) as journal:
            if kept is None:
                journal.begin(self._began)
            standing = self._standing(kept)
            self._screen.say(f"The journal is {path}.")
            self._show_missing()
            person = RememberingPerson(self._person, journal, standing, self._screen.passed)
            walk = AlignmentWalk(self._place(person), journal, self._screen, progress)
            self._walk(walk)
            if self._order.step is None:
                journal.end()
                self._screen.summary(self._plan, walk.progress)

    def _walk(self, walk: AlignmentWalk) -> None:
        if self._order.step is None:
            walk.to_the_end()
        else:
            walk.do(self._plan.step(self._order.step))

    def _check_order(self, progress: Progress) -> None:
        """Refuse to do one step where another is on, or where its turn has not come."""
        if self._order.step is None:
            return
        if progress.current is not None and progress.current.step_id != self._order.step:
            raise OrderRefused(
                f"The step '{progress.current.step_id}' is not finished; go on with it before any other."
            )
        order = order_of(self._plan, progress, self._order.step)
        if order.refused:
            raise OrderRefused(f"Out of order: {' '.join(order.reasons)}")

    @property
    def _began(self) -> JobBegan:
        seed = self._order.seed if self._instruments.hands is not None else None
        return JobBegan(receiver_id=self._receiver.id, mode=self._order.mode, seed=seed)

    def _find_journal(self) -> tuple[Path, Kept | None]:
        store = self._order.store or default_store_path(self._order.mode)
        found = latest_journal(store, self._began)
        if found is not None and self._goes_on(found[1]):
            return found
        return journal_path(store, self._receiver.id, datetime.now(UTC)), None

    def _goes_on(self, kept: Kept) -> bool:
        if self._order.step is not None:
            return True
        if kept.ended:
            return False
        done = len({note.step_id for note in _progress(self._receiver, kept).ended})
        text = f"An alignment of {self._receiver.name} stopped after {done} of {len(self._plan.steps)} steps."
        if self._order.unattended:
            self._screen.say(f"{text} Going on with it.")
            return True
        return self._terminal.answer(Asked("choose", "resume", text, (RESUME, ANEW))) == RESUME

    def _progress(self, path: Path, kept: Kept | None) -> Progress:
        progress = Progress(self._receiver.id) if kept is None else _progress(self._receiver, kept)
        known = {step.id for step in self._plan.steps}
        noted_steps = [*progress.ended, *([progress.current] if progress.current else [])]
        for record in noted_steps:
            if record.step_id not in known:
                raise JournalError(
                    f"{path}: the step '{record.step_id}' is no longer in the plan of {self._receiver.name}; "
                    "begin anew, or use the receiver file as it was."
                )
        return progress

    def _standing(self, kept: Kept | None) -> Standing:
        """Say what stands. The practice receiver comes up afresh, and is brought to where the person left it."""
        nothing = nothing_stands(self._receiver)
        if kept is None:
            return nothing
        standing = standing_after(nothing, kept.answers)
        if self._instruments.hands is not None:
            _do_again(self._instruments.hands, kept.answers)
            return standing
        text = "Do all leads and controls still stand as they did when it stopped?"
        if standing != nothing and self._terminal.answer(Asked("choose", "standing", text, (NO, YES))) == YES:
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
        )


def _progress(receiver: Receiver, kept: Kept) -> Progress:
    return reduce(noted, kept.notes, Progress(receiver.id))


def _do_again(hands: Hands, answers: Sequence[Answered]) -> None:
    for each in answers:
        if each.asked.action != "choose":
            do_on_practice_bench(hands, each.asked)
