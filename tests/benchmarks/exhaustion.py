"""What large and unfinished things cost the service: photos that unfold, a large job file, requests never ended.

Each in a process of its own, whose whole memory at its highest is told.
"""

import io
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import ExitStack
from datetime import UTC, datetime
from pathlib import Path

import httpx2
import psutil
from PIL import Image

from server.records.job_import import import_job
from server.records.store import Store
from server.report.pdf import Paper, pdf_report
from server.report.report import make_report
from tests.server.processes import FakeService
from tests.server.records.samples import JOB
from tests.server.records.test_archive import Files, exported, filled, listed, packed, unpacked
from tests.server.test_connections import ME, half_sent, port_of

SIDE_PIXELS = 7000
PHOTOS = 3
READINGS = 300_000
REQUESTS = 1200
NOW = datetime(2026, 11, 25, tzinfo=UTC)


def photos_that_unfold(folder: Path) -> float:
    """Time the report of a job with three pictures of 49 million pixels each, in a file of 150 kB."""
    file = io.BytesIO()
    Image.new("RGB", (SIDE_PIXELS, SIDE_PIXELS), "#804020").save(file, "PNG")
    store = Store(folder / "record.sqlite")
    job_id = store.begin_job(JOB)
    began_s = time.perf_counter()
    for number in range(PHOTOS):
        store.photo(job_id, None, f"photo {number}", "image/png", file.getvalue())
    pdf_report(make_report(store, job_id, NOW), Paper.A4, NOW)
    return time.perf_counter() - began_s


def a_large_job(folder: Path) -> float:
    """Time how a job file of 300,000 readings is taken in."""
    given = Store(folder / "given.sqlite")
    files = unpacked(exported(given, filled(given)))
    given.close()
    content = packed(_many_readings(files))
    store = Store(folder / "record.sqlite")
    began_s = time.perf_counter()
    import_job(store, content)
    return time.perf_counter() - began_s


def _many_readings(files: Files) -> Files:
    """Let one run of a job have taken the same reading again and again."""
    name = min(name for name in files if name.endswith("readings.csv"))
    head, first, *_ = files[name].decode().splitlines()
    rest = first.split(",", 2)[2]
    lines = [head, *(f"{number},{number},{rest}" for number in range(READINGS))]
    return listed({**files, name: "\r\n".join(lines).encode()})


def requests_never_ended(folder: Path) -> tuple[float, float]:
    """Time how long the output takes to go off among 1,200 requests half sent; give the service's memory too."""
    with FakeService(folder, 0.03) as service, ExitStack() as peers:
        half_sent(port_of(service), REQUESTS, peers)
        with httpx2.Client(base_url=service.http.base_url, timeout=60.0) as newcomer:
            began_s = time.perf_counter()
            newcomer.post("/api/output-off", headers=ME).raise_for_status()
            taken_s = time.perf_counter() - began_s
        return taken_s, psutil.Process(service.process.pid).memory_info().rss / 1e6


CASES: dict[str, Callable[[Path], float]] = {"photos": photos_that_unfold, "job": a_large_job}


def main() -> None:
    """Print time and memory of each."""
    for case in CASES:
        done = subprocess.run(
            [sys.executable, "-m", "tests.benchmarks.exhaustion", case], capture_output=True, text=True, check=True
        )
        sys.stdout.write(f"{case}: {done.stdout}")
    with tempfile.TemporaryDirectory() as folder:
        taken_s, memory_mb = requests_never_ended(Path(folder))
    sys.stdout.write(f"requests: {taken_s:.2f} s, {memory_mb:.0f} MB\n")


def _alone(case: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        taken_s = CASES[case](Path(folder))
    highest_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3
    sys.stdout.write(f"{taken_s:.2f} s, {highest_mb:.0f} MB\n")


if __name__ == "__main__":
    if sys.argv[1:2] and sys.argv[1] in CASES:
        _alone(sys.argv[1])
    else:
        main()
