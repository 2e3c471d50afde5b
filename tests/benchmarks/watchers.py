"""What fifty pages that only watch cost a scan: points a second with them and without, in turns within one run."""

import socket
import sys
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import Event, Thread

from tests.server.processes import FakeService

WATCHERS = 50
READING_S = 0.03
MEASURE_S = 6.0
TURNS = 3


def main() -> None:
    """Print both paces and their ratio."""
    with TemporaryDirectory() as folder, FakeService(Path(folder), READING_S) as service, service.stream("one"):
        alone, watched = [], []
        for _ in range(TURNS):
            alone.append(_pace(service))
            with _watching(int(service.http.base_url.port or 0)):
                watched.append(_pace(service))
    best, shared = max(alone), max(watched)
    ratio = shared / best
    sys.stdout.write(f"{best:.1f} points a second alone, {shared:.1f} with {WATCHERS} who watch: {ratio:.2f}\n")


def _pace(service: FakeService) -> float:
    """Scan for a while, and give its points a second."""
    run_id = service.order()
    time.sleep(1.0)
    began, began_s = _count(service, run_id), time.monotonic()
    time.sleep(MEASURE_S)
    pace = (_count(service, run_id) - began) / (time.monotonic() - began_s)
    service.http.post("/api/stop", headers={"X-Peakwright-Client": "one"})
    while service.bench()["busy_run"] is not None:
        time.sleep(0.05)
    return pace


def _count(service: FakeService, run_id: int) -> int:
    return len(service.http.get(f"/api/scans/{run_id}").json()["readings"])


@contextmanager
def _watching(port: int) -> Iterator[None]:
    """Open so many streams, and read what they bring."""
    over = Event()
    with ExitStack() as links:
        for number in range(WATCHERS):
            link = links.enter_context(socket.create_connection(("127.0.0.1", port)))
            link.sendall(f"GET /api/live?client=w{number} HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n".encode())
            link.settimeout(0.2)
            Thread(target=_read, args=(link, over), daemon=True).start()
        yield
        over.set()


def _read(link: socket.socket, over: Event) -> None:
    while not over.is_set():
        try:
            if not link.recv(1 << 16):
                return
        except TimeoutError:
            continue
        except OSError:
            return
