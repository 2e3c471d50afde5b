"""The bench's thread holds sessions: runs with a person in between, and the source off after each of them."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from threading import Event as Flag
from typing import Any

import pytest

from sequences.engine.run import UNCONFIRMED
from sequences.errors import InstrumentFault, Stopped
from server.bench.live_feed import LiveFeed
from server.bench.worker import BenchWorker, Desk
from server.errors import BenchBusy, PracticeError
from server.records.store import Store
from tests.server.benches import PATIENCE_S, FakeBench, ReadingJob, eventually


@dataclass
class Scene:
    """A session that does what a test says."""

    act: Callable[[Desk], str | None]
    began: Flag = field(default_factory=Flag)

    def first_view(self) -> dict[str, Any]:
        """Show a title."""
        return {"title": "A step"}

    def carry_out(self, desk: Desk) -> str | None:
        """Do it."""
        self.began.set()
        return self.act(desk)


@dataclass
class Rig:
    """A worker over a bench."""

    bench: FakeBench
    worker: BenchWorker

    def hold(self, act: Callable[[Desk], str | None]) -> str | None:
        """Hold a session to its end; give what the person is told."""
        self.worker.begin_session(Scene(act))
        assert self.worker.wait_until_idle(PATIENCE_S)
        view = self.worker.view()
        assert (view.session, view.busy_run) == (None, None)
        return view.last_error


@pytest.fixture
def rig(tmp_path: Path) -> Iterator[Rig]:
    """A started worker."""
    bench, store = FakeBench(), Store(tmp_path / "record.sqlite")
    bench.gated.gate.set()
    worker = BenchWorker(lambda: bench, store, LiveFeed(first_number=1))
    worker.start()
    worker.look(PATIENCE_S)
    yield Rig(bench, worker)
    worker.close()
    store.close()


def with_output_on(ending: Exception | None) -> Callable[[Desk], str | None]:
    """Switch the source on and end so."""

    def act(desk: Desk) -> None:
        source = desk.bench.bench.source
        assert source is not None
        source.set_output(True)
        if ending is not None:
            raise ending

    return act


@pytest.mark.parametrize(
    ("ending", "told"),
    [
        (None, None),
        (Stopped("The run was stopped."), None),
        (InstrumentFault("The meter at A is gone; look at its cable."), "The meter at A is gone; look at its cable."),
        (PracticeError("The practice bench does not answer."), "The practice bench does not answer."),
        (ZeroDivisionError(), "The step ended by a fault of the program; its log says more."),
    ],
)
def test_the_source_is_off_whatever_ends_a_session(rig: Rig, ending: Exception | None, told: str | None) -> None:
    """The person is told in one sentence, but not of what they asked for themselves; the bench is free again."""
    assert rig.hold(with_output_on(ending)) == told
    assert rig.bench.source.output_on is False
    assert rig.worker.view().output_on is False
    rig.worker.begin(ReadingJob(1))


def test_a_source_that_does_not_confirm_is_never_said_to_be_off(rig: Rig) -> None:
    """The person is sent to the instrument."""
    rig.bench.source.confirms = False

    assert rig.hold(with_output_on(None)) == UNCONFIRMED
    assert rig.worker.view().output_on is None


def test_a_stop_reaches_a_session_that_waits(rig: Rig) -> None:
    """At once; so does switching off, which may say why."""
    for stop, told in (
        (rig.worker.stop, None),
        (lambda: rig.worker.output_off("Nobody was there."), "Nobody was there."),
    ):
        scene = Scene(lambda desk: str(desk.stop.wait_for(lambda: False)) and None)
        rig.worker.begin_session(scene)
        assert scene.began.wait(PATIENCE_S)
        stop()
        assert rig.worker.wait_until_idle(PATIENCE_S)
        assert rig.worker.view().last_error == told


def test_a_session_takes_the_bench_alone(rig: Rig) -> None:
    """By name."""
    scene = Scene(lambda desk: str(desk.stop.wait_for(lambda: False)) and None)
    rig.worker.begin_session(scene)

    for begin in (
        lambda: rig.worker.begin(ReadingJob(1)),
        lambda: rig.worker.begin_session(scene),
        rig.worker.require_idle,
    ):
        with pytest.raises(BenchBusy, match="The step 'A step' is on; wait for its end or stop it first"):
            begin()
    rig.worker.stop()
    assert rig.worker.wait_until_idle(PATIENCE_S)
    rig.worker.require_idle()


def test_what_a_session_shows_stands_in_the_view(rig: Rig) -> None:
    """Until it ends."""
    go_on = Flag()

    def act(desk: Desk) -> None:
        desk.show(session={"title": "A step", "phase": "adjust"}, busy_run=4)
        assert go_on.wait(PATIENCE_S)

    rig.worker.begin_session(Scene(act))
    assert rig.worker.view().session is not None
    eventually(lambda: rig.worker.view().busy_run == 4)
    assert rig.worker.view().session == {"title": "A step", "phase": "adjust"}
    go_on.set()
    assert rig.worker.wait_until_idle(PATIENCE_S)
    assert rig.worker.view().session is None


def test_closing_ends_a_session_and_leaves_the_source_off(rig: Rig) -> None:
    """It does not wait for an answer."""

    def act(desk: Desk) -> None:
        with_output_on(None)(desk)
        desk.stop.wait_for(lambda: False)

    scene = Scene(act)
    rig.worker.begin_session(scene)
    assert scene.began.wait(PATIENCE_S)
    rig.worker.close()

    assert rig.bench.closed
    assert rig.bench.source.output_on is False
    with pytest.raises(BenchBusy, match="shutting down"):
        rig.worker.begin_session(scene)
