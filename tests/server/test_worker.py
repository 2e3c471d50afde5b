"""The bench's thread carries out runs, and leaves the source off whatever ends them."""

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from sequences.errors import Stopped
from server.bench.live_feed import LiveFeed
from server.bench.worker import BenchWorker
from server.errors import BenchBusy, BenchError, InstrumentMissing, PracticeError, StoreError
from server.records.store import Store
from tests.server.benches import PATIENCE_S, FakeBench, ReadingJob, eventually


class Rig:
    """A worker with its bench, record and feed."""

    def __init__(self, path: Path, bench: FakeBench, open_bench: Callable[[], FakeBench] | None = None) -> None:
        """Put it together and wait until the bench is open."""
        self.bench = bench
        self.store = Store(path)
        self.feed = LiveFeed(first_number=1)
        self.worker = BenchWorker(open_bench or (lambda: bench), self.store, self.feed)

    def start(self) -> None:
        """Begin, and wait until the instruments have been looked for."""
        self.worker.start()
        self.worker.look(PATIENCE_S)

    def run_to_end(self, job: ReadingJob) -> dict[str, Any]:
        """Carry out a job and give its record."""
        run_id = self.worker.begin(job)
        assert self.worker.wait_until_idle(PATIENCE_S)
        return self.store.run(run_id)

    def kinds(self) -> list[str]:
        """Name the events that were published, in order."""
        items = [json.loads(item.body) for item in self.feed.since(0).items if item.body is not None]
        return [item["event"]["kind"] for item in items]


@pytest.fixture
def rig(tmp_path: Path) -> Iterator[Rig]:
    """A started worker whose meter answers at once."""
    made = Rig(tmp_path / "record.sqlite", FakeBench())
    made.bench.gated.gate.set()
    made.start()
    yield made
    made.bench.gated.gate.set()
    made.worker.close()
    made.store.close()


def test_a_run_is_carried_out_recorded_and_published(rig: Rig) -> None:
    """From the first event to the last, and the result is there when the last is heard."""
    run = rig.run_to_end(ReadingJob(3))

    assert (run["ending"], run["output_off"], run["result"]) == ("completed", True, {"readings": 3})
    assert [reading["value"] for reading in run["readings"]] == [1.0, 1.0, 1.0]
    assert run["instruments"][0]["identity"] == "Invented,source,1,1.0"
    assert rig.kinds() == ["RunStarted", "SourceChanged", *["ReadingTaken"] * 3, "RunEnded"]
    view = rig.worker.view()
    assert (view.busy_run, view.output_on, view.last_error) == (None, False, None)
    assert not rig.bench.source.output_on


def test_every_event_is_on_disk_before_it_is_published(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    """At each publication the record is asked for what it holds."""
    run_id = None
    on_disk: list[int] = []
    publish = rig.feed.publish

    def look_then_publish(payload: dict[str, Any]) -> None:
        run = rig.store.run(payload["run"])
        count = len(run["readings"]) + len(run["events"]) + (run["ending"] is not None)
        on_disk.append(count - payload["seq"])
        publish(payload)

    monkeypatch.setattr(rig.feed, "publish", look_then_publish)
    run_id = rig.run_to_end(ReadingJob(4))["id"]

    assert run_id is not None
    assert on_disk == [1] * 7


def test_the_output_is_off_before_anything_runs(rig: Rig) -> None:
    """Whatever an earlier program left on."""
    assert ("safe", None) in rig.bench.source.calls
    assert rig.worker.view().output_on is False


def test_a_second_run_is_refused_while_one_is_on(rig: Rig) -> None:
    """It names the one that is on."""
    rig.bench.gated.gate.clear()
    run_id = rig.worker.begin(ReadingJob())

    with pytest.raises(BenchBusy, match=f"Scan {run_id} is still on"):
        rig.worker.begin(ReadingJob())
    with pytest.raises(BenchBusy):
        rig.worker.look(PATIENCE_S)

    rig.bench.gated.gate.set()
    assert rig.worker.wait_until_idle(PATIENCE_S)
    assert rig.run_to_end(ReadingJob(1))["ending"] == "completed"


def test_a_stop_ends_the_run_within_one_reading(rig: Rig) -> None:
    """The reading under way is the last."""
    rig.bench.gated.gate.clear()
    run_id = rig.worker.begin(ReadingJob(1000))
    assert rig.bench.gated.waiting.wait(PATIENCE_S)

    rig.worker.stop()
    rig.bench.gated.gate.set()
    assert rig.worker.wait_until_idle(PATIENCE_S)

    run = rig.store.run(run_id)
    assert (run["ending"], run["output_off"], len(run["readings"])) == ("stopped", True, 1)
    assert not rig.bench.source.output_on
    assert rig.worker.view().last_error is None


def test_output_off_does_not_wait_for_the_reading(rig: Rig) -> None:
    """The meter hangs, the source is off all the same, and stays off when the meter comes back."""
    rig.bench.gated.gate.clear()
    run_id = rig.worker.begin(ReadingJob(1000))
    assert rig.bench.gated.waiting.wait(PATIENCE_S)
    calls = len(rig.bench.source.calls)
    assert ("output", True) in rig.bench.source.calls

    rig.worker.output_off()

    assert rig.bench.source.calls[calls:] == [("safe", None)]
    assert rig.worker.view().output_on is False
    assert rig.worker.view().busy_run == run_id
    rig.bench.gated.gate.set()
    assert rig.worker.wait_until_idle(PATIENCE_S)
    assert rig.store.run(run_id)["ending"] == "stopped"
    assert not rig.bench.source.output_on


def test_output_off_without_a_run_switches_off_too(rig: Rig) -> None:
    """A person may have switched it on at the instrument."""
    rig.bench.source.output_on = True

    rig.worker.output_off()

    assert not rig.bench.source.output_on


def test_a_source_that_does_not_confirm_is_told_to_everyone(rig: Rig) -> None:
    """The person must go to the instrument."""
    rig.bench.source.confirms = False

    with pytest.raises(BenchError, match="did not confirm that its output is off"):
        rig.worker.output_off()

    assert rig.worker.view().output_on is None
    assert "switch it off at the instrument" in str(rig.worker.view().last_error)


def test_a_source_that_is_missing_is_never_said_to_be_off(tmp_path: Path) -> None:
    """It may have been lost with its output on."""
    rig = Rig(tmp_path / "record.sqlite", FakeBench(missing={"source"}))
    rig.worker.start()
    eventually(lambda: rig.worker.view().instruments)
    assert rig.worker.view().output_on is None
    assert "see to it at the instrument" in str(rig.worker.view().last_error)

    with pytest.raises(BenchError, match="source is missing"):
        rig.worker.output_off()
    assert rig.worker.view().output_on is None

    rig.worker.look(PATIENCE_S)
    assert (rig.worker.view().output_on, rig.worker.view().last_error) == (False, None)
    rig.worker.close()
    rig.store.close()


def test_a_bench_that_is_not_open_yet_is_never_said_to_be_off(tmp_path: Path) -> None:
    """Whoever presses the button in the first second is told."""
    rig = Rig(tmp_path / "record.sqlite", FakeBench())

    with pytest.raises(BenchError, match="not open"):
        rig.worker.output_off()

    assert rig.worker.view().output_on is None
    rig.store.close()


def test_an_instrument_that_fails_ends_the_run_in_one_sentence(rig: Rig) -> None:
    """With the readings until then kept, and the source off."""
    rig.bench.gated.dies_after = 1
    run = rig.run_to_end(ReadingJob(3))

    assert (run["ending"], run["ending_text"]) == ("failed", "The meter at A is gone; look at its cable.")
    assert (len(run["readings"]), run["output_off"]) == (1, True)
    assert rig.worker.view().last_error == "The meter at A is gone; look at its cable."
    assert not rig.bench.source.output_on


def test_hands_that_fail_end_the_run_before_it_touches_the_source(rig: Rig) -> None:
    """Nothing is fed into a receiver that is not hooked up."""

    def refuse() -> None:
        raise PracticeError("The practice bench refused (connect): no such point.")

    calls = len(rig.bench.source.calls)
    run = rig.run_to_end(ReadingJob(before=refuse))

    assert (run["ending"], run["ending_text"]) == ("failed", "The practice bench refused (connect): no such point.")
    assert rig.kinds() == ["RunEnded"]
    assert {call[0] for call in rig.bench.source.calls[calls:]} == {"safe"}


def test_a_fault_of_the_program_is_told_as_one(rig: Rig, caplog: pytest.LogCaptureFixture) -> None:
    """One sentence for the person, the traceback for the log."""

    def stumble() -> None:
        raise ZeroDivisionError

    run = rig.run_to_end(ReadingJob(before=stumble))

    assert run["ending_text"] == "The run ended by a fault of the program; its log says more."
    assert "ZeroDivisionError" in caplog.text
    assert rig.run_to_end(ReadingJob())["ending"] == "completed"


def test_a_result_that_cannot_be_written_down_is_a_fault_of_the_program(
    rig: Rig, caplog: pytest.LogCaptureFixture
) -> None:
    """The readings are kept, and the bench is free again."""
    job = ReadingJob(2, figures={"curve": object()})

    run = rig.run_to_end(job)

    assert (run["ending"], run["result"], len(run["readings"])) == ("failed", None, 2)
    assert "no JSON form" in caplog.text
    assert rig.run_to_end(ReadingJob())["ending"] == "completed"


def test_a_bench_that_cannot_be_told_of_frees_the_worker(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    """A fault after the end of a run must not keep the bench busy for ever."""

    def stumble(_: FakeBench) -> None:
        monkeypatch.undo()
        raise ZeroDivisionError

    monkeypatch.setattr(FakeBench, "instruments", property(stumble))
    run = rig.run_to_end(ReadingJob())

    assert run["ending"] == "completed"
    assert rig.worker.view().busy_run is None
    assert rig.run_to_end(ReadingJob())["ending"] == "completed"


def test_a_record_that_fails_ends_the_run_with_the_source_off(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    """A full disk: what cannot be kept is not measured."""

    def full(*_: object) -> None:
        raise StoreError("The record cannot be written (disk is full); give another --store.")

    monkeypatch.setattr(rig.store, "keep", full)
    run = rig.run_to_end(ReadingJob())

    assert (run["ending"], run["output_off"]) == ("failed", True)
    assert "disk is full" in run["ending_text"]
    assert rig.kinds() == ["RunEnded"]
    assert not rig.bench.source.output_on


def test_a_record_that_cannot_take_even_the_end_is_told_on_the_page(rig: Rig, monkeypatch: pytest.MonkeyPatch) -> None:
    """The page hears of the end all the same, and the next run may begin."""

    def full(*_: object) -> None:
        raise StoreError("The record cannot be written (disk is full); give another --store.")

    monkeypatch.setattr(rig.store, "end_run", full)
    run = rig.run_to_end(ReadingJob())

    assert run["ending"] is None
    assert rig.kinds()[-1] == "RunEnded"
    assert "disk is full" in str(rig.worker.view().last_error)
    assert rig.worker.view().busy_run is None


def test_a_missing_instrument_does_not_stop_the_service(tmp_path: Path) -> None:
    """It is shown with its reason, a run is refused, and a second look finds it."""
    bench = FakeBench(missing={"meter"})
    rig = Rig(tmp_path / "record.sqlite", bench)
    rig.worker.start()
    eventually(lambda: rig.worker.view().instruments)
    with pytest.raises(InstrumentMissing):
        rig.worker.begin(ReadingJob())
    meter = rig.worker.view().instruments[1]
    assert (meter["role"], meter["state"], meter["detail"]) == ("meter", "missing", "nothing answers there")

    rig.worker.look(PATIENCE_S)

    assert [instrument["state"] for instrument in rig.worker.view().instruments] == ["ready", "ready"]
    bench.gated.gate.set()
    assert rig.run_to_end(ReadingJob())["ending"] == "completed"
    rig.worker.close()
    rig.store.close()


def test_a_bench_that_cannot_be_opened_is_told_and_can_be_looked_for_again(tmp_path: Path) -> None:
    """No VISA library, say."""
    attempts = iter(range(2))

    def open_bench() -> FakeBench:
        if next(attempts) == 0:
            raise BenchError("No VISA library was found.")
        return FakeBench()

    rig = Rig(tmp_path / "record.sqlite", FakeBench(), open_bench)
    rig.worker.start()
    eventually(lambda: rig.worker.view().last_error == "No VISA library was found.")
    with pytest.raises(InstrumentMissing):
        rig.worker.begin(ReadingJob())

    rig.worker.look(PATIENCE_S)

    assert rig.worker.view().last_error is None
    assert len(rig.worker.view().instruments) == 2
    rig.worker.close()
    rig.store.close()


def test_closing_stops_the_run_and_leaves_the_source_off(rig: Rig) -> None:
    """And lets go of the instruments; to close again changes nothing."""
    rig.bench.gated.gate.clear()
    run_id = rig.worker.begin(ReadingJob(1000))
    assert rig.bench.gated.waiting.wait(PATIENCE_S)
    rig.worker.stop()
    rig.bench.gated.gate.set()

    rig.worker.close()
    rig.worker.close()

    assert rig.store.run(run_id)["ending"] == "stopped"
    assert rig.bench.closed
    assert not rig.bench.source.output_on
    with pytest.raises(BenchBusy, match="shutting down"):
        rig.worker.begin(ReadingJob())


def test_closing_switches_off_over_a_run_that_hangs(rig: Rig) -> None:
    """The meter never answers: the source is switched off without it."""
    rig.bench.gated.gate.clear()
    rig.worker.begin(ReadingJob(1000))
    assert rig.bench.gated.waiting.wait(PATIENCE_S)

    rig.worker.close(deadline_s=0.01)

    assert not rig.bench.source.output_on


def test_a_run_that_is_stopped_before_it_began_is_stopped_and_no_fault(rig: Rig) -> None:
    """While hands still moved the leads."""

    def stopped() -> None:
        raise Stopped("The run was stopped.")

    run = rig.run_to_end(ReadingJob(before=stopped))

    assert (run["ending"], run["ending_text"], run["output_off"]) == ("stopped", "The run was stopped.", True)
    assert not rig.bench.source.output_on


def test_only_what_changes_is_told(rig: Rig) -> None:
    """Each page reads what it is told anew."""
    rig.worker.show_trouble("The record is gone.")
    last = rig.feed.last
    rig.worker.show_trouble("The record is gone.")
    assert rig.feed.last == last

    rig.worker.show_trouble("The record is back.")
    assert rig.feed.last == last + 1
