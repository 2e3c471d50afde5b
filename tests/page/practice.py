"""The real service around the practice bench, as `peakwright practice` starts it."""

import re
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

STOP_S = 20


@contextmanager
def practice_service(store: Path, *, seed: int = 1) -> Iterator[str]:
    """Run it for as long as the block lasts, and give the page's address."""
    command = [sys.executable, "-m", "server", "practice", "--port", "0", "--seed", str(seed), "--store", str(store)]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True) as service:
        try:
            yield _address(service)
        finally:
            service.terminate()
            service.communicate(timeout=STOP_S)


def _address(service: subprocess.Popen[str]) -> str:
    assert service.stdout is not None
    said = []
    for line in service.stdout:
        said.append(line)
        if found := re.search(r"http://\S+", line):
            return found[0]
    message = "".join(said)
    raise RuntimeError(f"The service did not start: {message}")
