"""A PostgreSQL that stalls, or is started afresh, in the middle of a run."""

import selectors
import socket
import tempfile
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from threading import Event, Thread

import pytest

from sequences.engine.events import Ending, RunEnded
from server.bench.live_feed import LiveFeed
from server.bench.worker import BenchWorker
from server.errors import StoreError
from server.records import patient_postgresql
from server.records.store import Store
from tests.postgresql import Cluster
from tests.server.benches import PATIENCE_S, FakeBench, ReadingJob, eventually
from tests.server.records.samples import SCAN, reading

SOCKET = ".s.PGSQL.5432"
"""What libpq looks for in the folder that stands for a host."""


class StallingRelay:
    """Stands before a server's socket, and can cease to pass anything on while every connection stands."""

    def __init__(self, server: Path) -> None:
        """Listen in a folder of its own."""
        self._server = server
        self._folder = tempfile.TemporaryDirectory(prefix="pw-")
        self.folder = Path(self._folder.name)
        self._listener = socket.socket(socket.AF_UNIX)
        self._listener.bind(str(self.folder / SOCKET))
        self._listener.listen()
        self._flowing, self._ended = Event(), False
        self._flowing.set()
        self._links: list[socket.socket] = []
        Thread(target=self._accept, daemon=True).start()

    def stall(self) -> None:
        """Pass nothing on from now."""
        self._flowing.clear()

    def flow(self) -> None:
        """Pass on what has waited, and what comes."""
        self._flowing.set()

    def close(self) -> None:
        """Let go of everything."""
        self.flow()
        for one in [self._listener, *self._links]:
            with suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)
            one.close()
        self._folder.cleanup()

    def _accept(self) -> None:
        with suppress(OSError):
            while True:
                near, _ = self._listener.accept()
                far = socket.socket(socket.AF_UNIX)
                far.connect(str(self._server / SOCKET))
                self._links += [near, far]
                Thread(target=self._pass_on, args=(near, far), daemon=True).start()

    def _pass_on(self, near: socket.socket, far: socket.socket) -> None:
        other = {near: far, far: near}
        with suppress(OSError, ValueError), selectors.DefaultSelector() as ready:
            for one in other:
                ready.register(one, selectors.EVENT_READ)
            while True:
                for key, _ in ready.select():
                    one = near if key.fileobj is near else far
                    data = one.recv(65536)
                    self._flowing.wait()
                    if not data:
                        other[one].shutdown(socket.SHUT_RDWR)
                        return
                    other[one].sendall(data)


@pytest.fixture
def relay(postgresql: Cluster) -> Iterator[StallingRelay]:
    """A way to the server that can stall."""
    made = StallingRelay(postgresql.folder)
    yield made
    made.close()


@pytest.fixture
def store(postgresql: Cluster, relay: StallingRelay, monkeypatch: pytest.MonkeyPatch) -> Iterator[Store]:
    """A record that is reached through the relay, with less patience than otherwise once it is open."""
    with postgresql.database() as url:
        opened = Store(url.replace(str(postgresql.folder), str(relay.folder)))
        monkeypatch.setattr(patient_postgresql.PatientConnection, "longest_s", 0.5)
        monkeypatch.setattr("server.records.database.LONGEST_WAIT_S", 0.0)
        yield opened
        relay.flow()
        opened.close()


def test_a_write_has_a_deadline(store: Store, relay: StallingRelay) -> None:
    """And what could not be written of a run's end is written once the server answers again."""
    run_id = store.begin_run(SCAN)
    store.keep(run_id, 0, reading(0))
    relay.stall()

    with pytest.raises(StoreError, match=r"no answer within|timeout expired"):
        store.keep(run_id, 1, reading(1))
    with pytest.raises(StoreError):
        store.end_run(run_id, RunEnded(Ending.FAILED, "The record does not answer.", True), None)
    relay.flow()

    eventually(lambda: store.run(run_id)["ending"] == "failed")


def test_a_run_does_not_hang_with_its_source_on(store: Store, relay: StallingRelay) -> None:
    """The source goes off at the deadline, whatever the database does."""
    bench = FakeBench()
    worker = BenchWorker(lambda: bench, store, LiveFeed(first_number=1))
    worker.start()
    worker.look(PATIENCE_S)
    worker.begin(ReadingJob(1000))
    assert bench.gated.waiting.wait(PATIENCE_S)
    assert bench.source.output_on
    relay.stall()
    bench.gated.gate.set()

    eventually(lambda: not bench.source.output_on)
    relay.flow()
    assert worker.wait_until_idle(PATIENCE_S)
    worker.close()


def test_a_server_that_is_started_afresh_costs_the_run_nothing(postgresql: Cluster) -> None:
    """Between two readings; its end is written."""
    with postgresql.database() as url:
        store = Store(url)
        run_id = store.begin_run(SCAN)
        store.keep(run_id, 0, reading(0))
        postgresql.restart()
        store.keep(run_id, 1, reading(1))
        store.end_run(run_id, RunEnded(Ending.COMPLETED, "The run is complete.", True), None)

        run = store.run(run_id)
        store.close()
    assert (run["ending"], len(run["readings"])) == ("completed", 2)
