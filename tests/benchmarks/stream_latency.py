"""How long an event takes from the bench's thread to a client of the live stream, on loopback, idle and under load."""

import json
import signal
import sys
import threading
import time
from pathlib import Path
from statistics import median, quantiles
from tempfile import TemporaryDirectory

import httpx2

from server.api.listen import listen, open_listener, page_address
from server.api.service import assemble
from server.bench.file import BenchFile
from server.bench.live_feed import LiveFeed
from server.settings import Settings
from tests.server.benches import FakeBench

ITEMS = 400
PER_SECOND = {"guidance at 20 a second": 20.0, "a fast sweep, 1000 events a second": 1000.0}


def main() -> None:
    """Print median and 95 % of the delays."""
    with TemporaryDirectory() as folder:
        settings = Settings(mode="bench", bench_file=BenchFile(), store_path=Path(folder) / "record.sqlite")
        service = assemble(settings, open_bench=lambda _: FakeBench())
        listener = open_listener(settings.host, settings.port)
        address = page_address(settings, listener)
        ready = threading.Event()
        threading.Thread(target=_measure_all, args=(address, service.feed, ready), daemon=True).start()
        listen(service, listener, ready=ready.set)


def _measure_all(address: str, feed: LiveFeed, ready: threading.Event) -> None:
    ready.wait()
    for name, rate in PER_SECOND.items():
        delays = _measure(address, feed, rate)
        rare = quantiles(delays, n=20)[-1]
        sys.stdout.write(f"{name}: {1e3 * median(delays):.1f} ms median, {1e3 * rare:.1f} ms at 95 %\n")
    sys.stdout.flush()
    signal.raise_signal(signal.SIGINT)


def _measure(address: str, feed: LiveFeed, rate: float) -> list[float]:
    delays: list[float] = []
    with httpx2.stream("GET", f"{address}api/live?client=benchmark", timeout=30.0) as response:
        lines = response.iter_lines()
        next(line for line in lines if line.startswith("data"))  # the greeting
        threading.Thread(target=_publish, args=(feed, rate), daemon=True).start()
        for line in lines:
            if not line.startswith("data"):
                continue
            now_s = time.perf_counter()
            delays += [now_s - item["sent_s"] for item in json.loads(line.removeprefix("data: ")) if "sent_s" in item]
            if len(delays) >= ITEMS:
                return delays
    return delays


def _publish(feed: LiveFeed, rate: float) -> None:
    for _ in range(ITEMS):
        time.sleep(1.0 / rate)
        feed.publish({"sent_s": time.perf_counter()})
