"""The bench's one thread: it opens the instruments, carries out runs, and leaves the source off whatever happens."""

import logging
from collections.abc import Callable
from concurrent.futures import Future
from dataclasses import dataclass, field, replace
from queue import SimpleQueue
from threading import Event as Flag
from threading import Lock, Thread
from typing import Any, Protocol

from sequences.engine.events import Ending, Event, RunEnded, SourceChanged
from sequences.engine.instruments import Bench
from sequences.engine.run import UNCONFIRMED, Clock
from sequences.errors import SequenceError, Stopped
from server.api.live import LiveFeed
from server.bench.port import OpenBench
from server.bench.run_clock import RunClock
from server.bench.run_log import RunLog
from server.bench.stop_bell import StopBell
from server.errors import BenchBusy, BenchError, InstrumentMissing, ServerError
from server.plain import to_plain
from server.records.runs import NewRun
from server.records.store import Store

CLOSE_DEADLINE_S = 15.0
"""How long a run may take to hear its stop at shutdown before the source is switched off over its head."""

SOURCE_OUT_OF_REACH = (
    "The source is missing, so its output cannot be switched off from here: see to it at the instrument."
)


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
    busy_run: int | None = None
    session: dict[str, Any] | None = None
    last_error: str | None = None


@dataclass(slots=True)
class _State:
    """What threads share, all under one lock."""

    view: BenchView = field(default_factory=BenchView)
    stop: StopBell = field(default_factory=StopBell)
    bench: OpenBench | None = None
    closing: bool = False


class BenchWorker:
    """One thread that owns one bench. Its methods may be called from any thread."""

    def __init__(self, open_bench: Callable[[], OpenBench], store: Store, feed: LiveFeed, speed: float = 1.0) -> None:
        self._open_bench = open_bench
        self._store = store
        self._feed = feed
        self._speed = speed
        self._lock = Lock()
        self._state = _State()
        self._idle = Flag()
        self._idle.set()
        self._jobs: SimpleQueue[Callable[[], None] | None] = SimpleQueue()
        self._thread = Thread(target=self._work, name="bench", daemon=True)

    def start(self) -> None:
        """Begin, by opening the instruments; the bench stands empty until they have answered or not."""
        self._jobs.put(self._look)
        self._thread.start()

    def view(self) -> BenchView:
        """Tell how the bench stands."""
        with self._lock:
            return self._state.view

    def begin(self, job: Job) -> int:
        """Enter a run in the record and queue it.

        Raises:
            BenchBusy: another run is on, or the service is closing.
            InstrumentMissing: a role that it needs is empty.
            StoreError: the record cannot be written.
        """
        with self._lock:
            view = self._require_idle()
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
        """
        with self._lock:
            self._require_idle()
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
        self._state.stop = StopBell()
        self._state.view = replace(self._state.view, last_error=None, **changes)
        self._idle.clear()
        return self._state.stop

    def stop(self) -> None:
        """Ask the run to end; it does so within one reading. Nothing happens where none is on."""
        with self._lock:
            self._state.stop.set()

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

    def close(self, deadline_s: float = CLOSE_DEADLINE_S) -> None:
        """Stop the run, leave the source off and end the thread."""
        with self._lock:
            already, self._state.closing = self._state.closing, True
            self._state.stop.set()
            bench = self._state.bench
        if already or not self._thread.is_alive():
            return
        self._jobs.put(None)
        self._thread.join(deadline_s)
        if self._thread.is_alive() and bench is not None:
            logging.getLogger(__name__).error("the run did not end in %g s: the source goes off over it", deadline_s)
            bench.make_safe()

    def _work(self) -> None:
        while (job := self._jobs.get()) is not None:
            try:
                job()
            except Exception:
                logging.getLogger(__name__).exception("the bench's thread met a fault and goes on")
        with self._lock:
            bench, self._state.bench = self._state.bench, None
        if bench is not None:
            bench.close()

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

    def _open_or_reopen(self) -> OpenBench:
        bench = self._state.bench
        if bench is not None:
            bench.reopen_missing()
            return bench
        bench = self._open_bench()
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
            self._close_run(log, ended or log.ended or self._ended_by(None, None), result)
        finally:
            self._change(busy_run=None)
            self._idle.set()

    def _close_run(self, log: RunLog, ended: RunEnded, result: dict[str, Any] | None) -> None:
        trouble = log.close(ended, result)
        self._change(
            instruments=self._instruments(),
            output_on=False if ended.output_off else None,
            busy_run=None,
            last_error=trouble or (ended.text if ended.ending is Ending.FAILED else None),
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

    def _opened(self) -> OpenBench:
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

    def _change(self, **changes: Any) -> None:  # noqa: ANN401 - the fields of a view
        with self._lock:
            before = self._state.view
            self._state.view = replace(before, **changes)
            changed = self._state.view != before
        if changed:
            self._feed.publish_bench_change()


def _switch_off(bench: OpenBench | None) -> tuple[bool | None, str | None]:
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
