"""A source that does not confirm that its output is off: said, kept at, remembered by the next start."""

from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

import pytest

from sequences.errors import InstrumentFault
from server.bench.guarded_bench import GuardedBench, closing_off
from server.bench.live_feed import LiveFeed
from server.bench.output_ledger import OutputAlarm, OutputLedger
from server.bench.output_watch import OutputWatch
from server.bench.pulse import Pulse
from server.bench.worker import SWITCHED_ON_ELSEWHERE, BenchWorker
from server.errors import BenchError, OutputInDoubt, OutputUnconfirmed, ScanError, StoreError
from server.records.store import Store
from tests.fakes import FakeClock, FakeSource
from tests.server.benches import PATIENCE_S, FakeBench, ReadingJob, eventually

ADDRESS = "source-address"


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """A record."""
    opened = Store(tmp_path / "record.sqlite")
    yield opened
    opened.close()


@pytest.fixture
def start(store: Store) -> Iterator[Callable[..., BenchWorker]]:
    """Start workers that end with the test."""
    started: list[BenchWorker] = []

    def start_one(bench: FakeBench, clock: FakeClock | None = None) -> BenchWorker:
        pulse = Pulse if clock is None else partial(Pulse, now_s=clock.now)
        worker = BenchWorker(lambda: bench, store, LiveFeed(first_number=1), pulse=pulse)
        worker.start()
        worker.look(PATIENCE_S)
        started.append(worker)
        return worker

    yield start_one
    for worker in started:
        worker.close()


def bench_at_once() -> FakeBench:
    """A bench whose meter answers at once."""
    bench = FakeBench()
    bench.gated.gate.set()
    return bench


def test_an_output_is_in_the_record_before_it_goes_on_and_out_of_it_once_it_is_off(store: Store) -> None:
    """Whatever kills the program in between, the next start knows."""
    source_seen = list[str | None]()

    class Watched(FakeSource):
        def set_output(self, on: bool) -> None:
            source_seen.append(store.output_marked(ADDRESS))
            super().set_output(on)

    source = GuardedBench(FakeBench(Watched()), OutputLedger(store)).bench.source
    assert source is not None

    source.set_output(True)
    assert source_seen[0] is not None
    assert source.make_safe()

    assert store.output_marked(ADDRESS) is None


def test_an_output_that_cannot_be_entered_in_the_record_stays_off(store: Store) -> None:
    """The record is gone: nothing would know of it."""

    class Gone:
        def mark_output(self, address: str) -> str:
            raise StoreError(f"{address} cannot be written.")

        clear_output = store.clear_output

        output_marked = store.output_marked

    bench = bench_at_once()
    source = GuardedBench(bench, OutputLedger(Gone())).bench.source
    assert source is not None

    with pytest.raises(StoreError):
        source.set_output(True)
    assert not bench.source.output_on


def test_the_watch_keeps_at_it_until_the_source_confirms(start: Callable[..., BenchWorker], store: Store) -> None:
    """The alarm is in the bench's view and in the record meanwhile, and nothing is started."""
    bench = bench_at_once()
    worker = start(bench)
    bench.source.confirms = False
    run_id = worker.begin(ReadingJob(2))
    assert worker.wait_until_idle(PATIENCE_S)

    alarm = worker.view().output_alarm
    assert isinstance(alarm, OutputAlarm)
    assert ADDRESS in alarm.text
    assert (worker.view().output_on, store.run(run_id)["output_off"]) == (None, False)
    assert store.output_marked(ADDRESS) == alarm.since_utc
    with pytest.raises(OutputInDoubt, match="may still be on"):
        worker.begin(ReadingJob(2))
    tries = len(bench.source.calls)
    eventually(lambda: len(bench.source.calls) > tries)

    bench.source.confirms = True
    eventually(lambda: worker.view().output_alarm is None)

    assert store.output_marked(ADDRESS) is None
    assert worker.view().output_on is False
    assert worker.begin(ReadingJob(2)) > run_id


def test_the_next_start_knows_what_the_last_one_left_on(start: Callable[..., BenchWorker], store: Store) -> None:
    """The source is out of reach; once it answers again it is switched off and the alarm is over."""
    store.mark_output(ADDRESS)
    bench = FakeBench(missing={"source"}, found=set())
    worker = start(bench)

    alarm = worker.view().output_alarm
    assert alarm is not None
    assert alarm.since_utc == store.output_marked(ADDRESS)
    bench.found = {"source"}
    eventually(lambda: worker.view().output_alarm is None)

    assert bench.source.calls[-1] == ("safe", None)
    assert store.output_marked(ADDRESS) is None


def test_a_source_that_was_never_on_and_is_missing_alarms_nobody(start: Callable[..., BenchWorker]) -> None:
    """A bench whose source has not been switched on yet."""
    assert start(FakeBench(missing={"source"}, found=set())).view().output_alarm is None


def test_an_end_without_the_sources_word_is_told(start: Callable[..., BenchWorker], store: Store) -> None:
    """And left in the record for the next start."""
    bench = bench_at_once()
    bench.source.confirms = False
    worker = start(bench)

    assert worker.close() is False
    assert store.output_marked(ADDRESS) is not None


def test_an_end_with_the_sources_word_is_a_good_one(start: Callable[..., BenchWorker]) -> None:
    """Asked twice it says the same."""
    worker = start(bench_at_once())

    assert worker.close() is True
    assert worker.close() is True


def test_a_run_does_not_go_on_after_the_program_stood_still(start: Callable[..., BenchWorker], store: Store) -> None:
    """Forty seconds by a clock of the test's: the reading under way is the last, the source off, the reason told."""
    bench, clock = FakeBench(), FakeClock()
    worker = start(bench, clock)
    run_id = worker.begin(ReadingJob(1000))
    assert bench.gated.waiting.wait(PATIENCE_S)

    clock.time_s += 40.0
    bench.gated.gate.set()
    assert worker.wait_until_idle(PATIENCE_S)

    run = store.run(run_id)
    assert (run["ending"], len(run["readings"])) == ("stopped", 1)
    assert "stood still for 40 s" in run["ending_text"]
    assert "stood still for 40 s" in (worker.view().last_error or "")
    assert not bench.source.output_on


def test_a_pulse_takes_no_short_break_for_a_gap() -> None:
    """Just under the longest is none; just over is told once, with its length."""
    clock, gaps = FakeClock(), list[float]()
    pulse = Pulse(gaps.append, now_s=clock.now, longest_gap_s=10.0)
    for step_s in (9.9, 9.9, 10.5, 0.1):
        clock.time_s += step_s
        pulse.beat()

    assert gaps == pytest.approx([10.5])


def test_nothing_on_is_nothing_to_stop(start: Callable[..., BenchWorker], store: Store) -> None:
    """A laptop that slept over night finds its bench as it was."""
    clock = FakeClock()
    worker = start(bench_at_once(), clock)
    clock.time_s += 30_000.0
    run_id = worker.begin(ReadingJob(1))
    assert worker.wait_until_idle(PATIENCE_S)

    assert store.run(run_id)["ending"] == "completed"


def test_a_watch_tries_no_more_once_it_is_over() -> None:
    """Alarm off, then the end."""
    tries: list[int] = []
    watch = OutputWatch(lambda: tries.append(1), first_pause_s=0.001)
    watch.alarm(on=True)
    eventually(lambda: len(tries) >= 2)
    watch.alarm(on=False)
    watch.end()


@pytest.mark.parametrize("error", [ScanError("No result."), InstrumentFault("The meter is gone.")])
def test_a_command_ends_badly_where_the_source_gave_no_word(error: Exception) -> None:
    """What went wrong first is said too."""
    bench = bench_at_once()
    bench.source.confirms = False

    with (
        pytest.raises(OutputUnconfirmed, match=f"{error} The source did not confirm"),
        closing_off(GuardedBench(bench, OutputLedger())),
    ):
        raise error


def test_switching_off_by_hand_says_where_the_source_gave_no_word(start: Callable[..., BenchWorker]) -> None:
    """The button of the page."""
    bench = bench_at_once()
    worker = start(bench)
    bench.source.confirms = False

    with pytest.raises(BenchError, match="did not confirm"):
        worker.output_off()
    assert worker.view().output_alarm is not None


def test_an_output_switched_on_elsewhere_while_nothing_is_going_on_goes_off(
    store: Store,
) -> None:
    """At the panel, or by a power-up setting after a power cut; the reason is shown."""
    bench = bench_at_once()
    worker = BenchWorker(lambda: bench, store, LiveFeed(first_number=1), idle_look_s=0.01)
    worker.start()
    worker.look(PATIENCE_S)
    bench.source.output_on = True

    eventually(lambda: worker.view().last_error == SWITCHED_ON_ELSEWHERE)
    assert not bench.source.output_on
    assert worker.view().output_on is False
    worker.close()


def test_a_run_is_not_complete_where_somebody_changed_the_source_at_its_end(
    start: Callable[..., BenchWorker], store: Store
) -> None:
    """After its last reading: what was read may be without a signal."""
    bench = bench_at_once()
    bench.source.changed = InstrumentFault("The source's output was on and is now off.")
    worker = start(bench)
    run_id = worker.begin(ReadingJob(2))
    assert worker.wait_until_idle(PATIENCE_S)

    run = store.run(run_id)
    assert (run["ending"], run["ending_text"]) == ("failed", "The source's output was on and is now off.")
