"""The bench's one thread: it opens the instruments, carries out runs, and leaves the source off whatever happens."""

import logging
from collections.abc import Callable
from concurrent.futures import Future
from contextlib import suppress
from dataclasses import dataclass, field, replace
from queue import Empty, SimpleQueue
from threading import Event as Flag
from threading import Lock, Thread
from typing import Any, Protocol

from sequences.engine.events import Ending, Event, RunEnded, SourceChanged
from sequences.engine.instruments import Bench
from sequences.engine.run import UNCONFIRMED, Clock
from sequences.errors import SequenceError, Stopped
from server.bench.guarded_bench import GuardedBench
from server.bench.live_feed import LiveFeed
from server.bench.output_ledger import OutputAlarm, OutputGuardian, OutputLedger
from server.bench.output_watch import OutputWatch
from server.bench.port import OpenBench
from server.bench.pulse import Pulse, gap_text
from server.bench.run_clock import RunClock
from server.bench.run_log import RunLog
from server.bench.stop_bell import StopBell
from server.errors import BenchBusy, BenchError, InstrumentMissing, OutputInDoubt, ServerError
from server.plain import to_plain
from server.records.runs import NewRun
from server.records.store import Store

CLOSE_DEADLINE_S = 15.0
"""How long a run may take to hear its stop at shutdown before the source is switched off over its head."""

CONFIRMED_SINCE = "It has since confirmed that its output is off."

SOURCE_OUT_OF_REACH = (
    "The source is missing, so its output cannot be switched off from here: see to it at the instrument."
)


SWITCHED_ON_ELSEWHERE = (
    "The source's output was on though nothing here had switched it on (its panel, or a power-up setting), so it was "
    "switched off."
)

IDLE_LOOK_S = 5.0
"""How often the source is asked whether its output is on while nothing is going on."""


class Job(Protocol):
    """What a run does."""

    @property
    def needs(self) -> tuple[str, ...]:
        """The roles that must be filled."""

    def describe(self, instruments: list[dict[str, Any]]) -> NewRun:
        """Give what the record enters before the run begins."""

    def carry_out(self, bench: Bench, *, emit: Callable[[Event], None], stop: StopBell, clock: Clock) -> dict[str, Any]:
        """Do it, and give its figures."""


@dataclass(frozen=True, slots=True)
class Desk:
    """What a session works with, on the bench's thread. `show` changes fields of the bench's view."""

    bench: OpenBench
    stop: StopBell
    clock: Clock
    show: Callable[..., None]


class Session(Protocol):
    """Several runs with a person in between. It shows itself in the field `session` of the bench's view."""

    def first_view(self) -> dict[str, Any]:
        """Give what the bench's view shows of it before it has begun."""

    def carry_out(self, desk: Desk) -> str | None:
        """Do it; give the sentence for the person where something else than the person ended it."""


@dataclass(frozen=True, slots=True)
class BenchView:
    """How the bench stands at one moment."""

    instruments: tuple[dict[str, Any], ...] = ()
    output_on: bool | None = None
    output_alarm: OutputAlarm | None = None
    """Set while the source may be on and has not confirmed otherwise."""
    busy_run: int | None = None
    session: dict[str, Any] | None = None
    last_error: str | None = None


@dataclass(slots=True)
class _State:
    """What threads share, all under one lock."""

    view: BenchView = field(default_factory=BenchView)
    stop: StopBell = field(default_factory=StopBell)
    bench: GuardedBench | None = None
    closing: bool = False


class BenchWorker:
    """One thread that owns one bench. Its methods may be called from any thread."""

    def __init__(
        self,
        open_bench: Callable[[], OpenBench],
        store: Store,
        feed: LiveFeed,
        speed: float = 1.0,
        pulse: Callable[[Callable[[float], None]], Pulse] = Pulse,
        idle_look_s: float = IDLE_LOOK_S,
        guardian: OutputGuardian | None = None,
    ) -> None:
        self._open_bench = open_bench
        self._store = store
        self._feed = feed
        self._speed = speed
        self._idle_look_s = idle_look_s
        self._lock = Lock()
        self._state = _State()
        self._idle = Flag()
        self._idle.set()
        self._ledger = OutputLedger(store, self._alarm_is, guardian)
        self._watch = OutputWatch(self._switch_off_again)
        self._pulse = pulse(self._stood_still)
        self._jobs: SimpleQueue[Callable[[], None] | None] = SimpleQueue()
        self._thread = Thread(target=self._work, name="bench", daemon=True)

    def start(self) -> None:
        """Begin, by opening the instruments; the bench stands empty until they have answered or not."""
        self._jobs.put(self._look)
        self._thread.start()
        self._pulse.start()

    def view(self) -> BenchView:
        """Tell how the bench stands."""
        with self._lock:
            return self._state.view

    def begin(self, job: Job) -> int:
        """Enter a run in the record and queue it.

        Raises:
            BenchBusy: another run is on, or the service is closing.
            OutputInDoubt: the source may still be on from before.
            InstrumentMissing: a role that it needs is empty.
            StoreError: the record cannot be written.
        """
        self._pulse.beat()  # a gap until now was none of this run
        with self._lock:
            view = self._require_idle()
            _require_off(view)
            _require(job.needs, view)
            run_id = self._store.begin_run(job.describe(list(view.instruments)))
            stop = self._occupy(busy_run=run_id)
            self._jobs.put(lambda: self._run(run_id, job, stop))
        self._feed.publish_bench_change()
        return run_id

    def begin_session(self, session: Session) -> None:
        """Queue a session.

        Raises:
            BenchBusy: another run or session is on, or the service is closing.
            OutputInDoubt: the source may still be on from before.
        """
        self._pulse.beat()  # a gap until now was none of this session
        with self._lock:
            _require_off(self._require_idle())
            stop = self._occupy(session=session.first_view())
            self._jobs.put(lambda: self._hold(session, stop))
        self._feed.publish_bench_change()

    def require_idle(self) -> None:
        """Refuse what must not be done while something is on.

        Raises:
            BenchBusy: a run or a session is on, or the service is closing.
        """
        with self._lock:
            self._require_idle()

    def _require_idle(self) -> BenchView:
        """Give the view of a bench with nothing on it, under the lock."""
        view = self._state.view
        if self._state.closing:
            raise BenchBusy("The service is shutting down; start it again first.")
        if view.session is not None:
            raise BenchBusy(f"The step '{view.session['title']}' is on; wait for its end or stop it first.")
        if view.busy_run is not None:
            raise BenchBusy(f"Scan {view.busy_run} is still on; wait for it or stop it first.")
        return view

    def _occupy(self, **changes: Any) -> StopBell:  # noqa: ANN401 - the fields of a view
        """Show that the bench is taken, and give the stop of what takes it, under the lock."""
        self._state.stop = StopBell(self._pulse.beat)
        self._state.view = replace(self._state.view, last_error=None, **changes)
        self._idle.clear()
        return self._state.stop

    def stop(self) -> None:
        """Ask the run to end; it does so within one reading. Nothing happens where none is on."""
        with self._lock:
            self._state.stop.set()

    def show_trouble(self, sentence: str) -> None:
        """Show everyone what the bench cannot know of itself."""
        self._change(last_error=sentence)

    def wait_until_idle(self, longest_s: float) -> bool:
        """Wait for the run to end, and say whether it has."""
        return self._idle.wait(longest_s)

    def look(self, longest_s: float) -> None:
        """Look again for missing instruments and return when that is done.

        Raises:
            BenchBusy: a run or a session is on.
            BenchError: the search takes longer than `longest_s`; it goes on.
        """
        with self._lock:
            self._require_idle()
        looked: Future[None] = Future()

        def look_and_tell() -> None:
            self._look()
            looked.set_result(None)

        self._jobs.put(look_and_tell)
        try:
            looked.result(longest_s)
        except TimeoutError as error:
            raise BenchError("The search for instruments goes on; its result will show on the page.") from error

    def output_off(self, because: str | None = None) -> None:
        """Stop the run and switch the output off at once, without waiting for the reading that is under way.

        Args:
            because: what the person must be told, where a session is on.

        Raises:
            BenchError: the source did not confirm.
        """
        with self._lock:
            self._state.stop.set(because)
            bench = self._state.bench
        output_on, trouble = _switch_off(bench)
        self._change(output_on=output_on)
        if trouble is not None:
            self._change(last_error=trouble)
            raise BenchError(trouble)

    def close(self, deadline_s: float = CLOSE_DEADLINE_S) -> bool:
        """Stop the run, leave the source off and end the thread; say whether the output is confirmed off."""
        self._pulse.end()
        with self._lock:
            already, self._state.closing = self._state.closing, True
            self._state.stop.set()
            bench = self._state.bench
        if already or not self._thread.is_alive():
            return self._ledger.alarm is None
        self._jobs.put(None)
        self._thread.join(deadline_s)
        if self._thread.is_alive() and bench is not None:
            logging.getLogger(__name__).error("the run did not end in %g s: the source goes off over it", deadline_s)
            bench.make_safe()
        self._watch.end()
        return self._ledger.alarm is None

    def _work(self) -> None:
        while (job := self._next_job()) is not None:
            try:
                job()
            except Exception:
                logging.getLogger(__name__).exception("the bench's thread met a fault and goes on")
        with self._lock:
            bench, self._state.bench = self._state.bench, None
        if bench is not None:
            bench.close()

    def _next_job(self) -> Callable[[], None] | None:
        """Wait for something to do; meanwhile ask the source now and then, whom somebody may have switched on."""
        try:
            return self._jobs.get(timeout=self._idle_look_s)
        except Empty:
            return self._ask_idle_source

    def _ask_idle_source(self) -> None:
        bench = self._state.bench
        if bench is None or self._ledger.alarm is not None:
            return
        on = bench.output_is_on()
        if on:
            output_on, error = _switch_off(bench)
            self._change(output_on=output_on, last_error=error or SWITCHED_ON_ELSEWHERE)
        self._change(instruments=self._instruments(), **({} if on is not None else {"output_on": None}))

    def _look(self) -> None:
        error = None
        try:
            bench = self._open_or_reopen()
            output_on, error = _switch_off(bench)
            self._change(output_on=output_on)
        except (ServerError, SequenceError) as told:
            error = str(told)
        except Exception:
            logging.getLogger(__name__).exception("the bench could not be opened")
            error = "The instruments could not be opened by a fault of the program; its log says more."
        self._change(instruments=self._instruments(), last_error=error)

    def _open_or_reopen(self) -> GuardedBench:
        bench = self._state.bench
        if bench is not None:
            bench.reopen_missing()
            return bench
        bench = GuardedBench(self._open_bench(), self._ledger)
        with self._lock:
            self._state.bench = bench
        return bench

    def _instruments(self) -> tuple[dict[str, Any], ...]:
        bench = self._state.bench
        if bench is None:
            return ()
        names = ("role", "address", "identity", "state", "detail")
        return tuple({name: getattr(one, name) for name in names} for one in bench.instruments)

    def _run(self, run_id: int, job: Job, stop: StopBell) -> None:
        log = RunLog(run_id, self._store, self._feed)
        result, ended = None, None
        try:
            clock = RunClock(stop, self._speed)
            figures = job.carry_out(self._ready_bench(), emit=self._watched(log), stop=stop, clock=clock)
            result = to_plain(figures)
        except Exception as error:  # noqa: BLE001 - whatever ended it, the run must be closed and the source off
            ended = self._ended_by(error, log.ended)
        try:
            ended = ended or log.ended or self._ended_by(None, None)
            if stop.because is not None and stop.because not in ended.text:
                ended = replace(ended, text=f"{ended.text} {stop.because}")
            self._close_run(log, ended, result, stop.because)
        finally:
            self._change(busy_run=None)
            self._idle.set()

    def _close_run(self, log: RunLog, ended: RunEnded, result: dict[str, Any] | None, because: str | None) -> None:
        trouble = log.close(ended, result)
        self._change(
            instruments=self._instruments(),
            output_on=False if ended.output_off else None,
            busy_run=None,
            last_error=trouble or (ended.text if ended.ending is Ending.FAILED else because),
        )

    def _hold(self, session: Session, stop: StopBell) -> None:
        """Carry out a session. However it ends, the source is off and the bench free afterwards."""
        told: str | None = None
        try:
            told = session.carry_out(Desk(self._opened(), stop, RunClock(stop, self._speed), self._show))
        except Stopped:
            pass  # the person asked for it
        except (ServerError, SequenceError) as error:
            told = str(error)
        except Exception:
            logging.getLogger(__name__).exception("a session ended by a fault of the program")
            told = "The step ended by a fault of the program; its log says more."
        try:
            off = self._make_safe()
        except Exception:
            logging.getLogger(__name__).exception("the source could not be switched off after a session")
            off = False
        parts = (stop.because, told, None if off else UNCONFIRMED)
        self._change(
            instruments=self._instruments(),
            output_on=False if off else None,
            busy_run=None,
            session=None,
            last_error=" ".join(part for part in parts if part) or None,
        )
        self._idle.set()

    def _show(self, **changes: Any) -> None:  # noqa: ANN401 - the fields of a view
        self._change(instruments=self._instruments(), **changes)

    def _ready_bench(self) -> Bench:
        return self._opened().bench

    def _opened(self) -> GuardedBench:
        if self._state.bench is None:
            raise BenchError("The instruments are not open; look for them again.")
        return self._state.bench

    def _watched(self, log: RunLog) -> Callable[[Event], None]:
        """Store and publish each event, and follow how the source stands."""

        def emit(event: Event) -> None:
            log.emit(event)
            if isinstance(event, SourceChanged):
                self._change(output_on=event.output_on)

        return emit

    def _ended_by(self, error: Exception | None, ended: RunEnded | None) -> RunEnded:
        """Give a run's last event where the engine did not say it all: an error outside it, or of its sink."""
        off = ended.output_off if ended is not None else self._make_safe()
        if isinstance(error, Stopped):
            return ended or RunEnded(Ending.STOPPED, str(error), off)
        if isinstance(error, ServerError | SequenceError):
            text = str(error) if off else f"{error} {UNCONFIRMED}"
        else:
            logging.getLogger(__name__).error("a run ended by a fault of the program", exc_info=error)
            text = "The run ended by a fault of the program; its log says more."
        return RunEnded(Ending.FAILED, text, off)

    def _make_safe(self) -> bool:
        bench = self._state.bench
        return bench is None or bench.make_safe()

    def _alarm_is(self, alarm: OutputAlarm | None) -> None:
        """Show the alarm, and keep at the source for as long as it is on."""
        if alarm is not None:
            self._change(output_alarm=alarm, output_on=None)
        else:
            told = self.view().last_error
            self._change(
                output_alarm=None,
                output_on=False,
                instruments=self._instruments(),
                last_error=told and told.replace(UNCONFIRMED, CONFIRMED_SINCE),
            )
        self._watch.alarm(on=alarm is not None)

    def _switch_off_again(self) -> None:
        """Try once more, on the watch's thread; a source that is not open is looked for on the bench's own."""
        with self._lock:
            bench, idle = self._state.bench, self._idle.is_set()
        if bench is not None and not bench.make_safe() and idle and self._jobs.empty():
            self._jobs.put(self._look)

    def _stood_still(self, gap_s: float) -> None:
        """Stop what is on at once, and switch off without waiting for it to hear that."""
        with self._lock:
            if self._idle.is_set():
                return
            self._state.stop.set(gap_text(gap_s))
        logging.getLogger(__name__).warning("%s", gap_text(gap_s))
        Thread(target=self._off_after_gap, args=(gap_s,), name="off after a gap", daemon=True).start()

    def _off_after_gap(self, gap_s: float) -> None:
        with suppress(BenchError):  # shown to everyone as the bench's last error
            self.output_off(gap_text(gap_s))

    def _change(self, **changes: Any) -> None:  # noqa: ANN401 - the fields of a view
        with self._lock:
            before = self._state.view
            self._state.view = replace(before, **changes)
            changed = self._state.view != before
        if changed:
            self._feed.publish_bench_change()


def _require_off(view: BenchView) -> None:
    if view.output_alarm is not None:
        raise OutputInDoubt(f"{view.output_alarm.text} Nothing is started before that.")


def _switch_off(bench: GuardedBench | None) -> tuple[bool | None, str | None]:
    """Switch the source's output off.

    Returns:
        Whether it is on, None where that is not known; and what the person must be told, None where all is well.
    """
    if bench is None:
        return None, f"The instruments are not open. {UNCONFIRMED}"
    source = next((one for one in bench.instruments if one.role == "source"), None)
    confirmed = bench.make_safe()
    if source is None:
        return None, None
    if source.state == "missing":
        return None, SOURCE_OUT_OF_REACH
    return (False, None) if confirmed else (None, UNCONFIRMED)


def _require(needs: tuple[str, ...], view: BenchView) -> None:
    known = {instrument["role"]: instrument for instrument in view.instruments}
    for role in needs:
        if role not in known:
            raise InstrumentMissing(f"This bench has no {role}; name one in the bench file and start again.")
        if known[role]["state"] == "missing":
            raise InstrumentMissing(f"The {role} is missing ({known[role]['detail']}); connect it and look again.")
