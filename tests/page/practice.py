"""The real service around the practice bench, as `peakwright practice` starts it."""

import random
import re
import socket
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

STOP_S = 60


def lasting_port() -> int:
    """Give a free port that stays so while a service is away: below those that are dealt out to whoever asks for any.

    That range begins at 32768 on Linux, and at 49152 by RFC 6335.
    """
    for port in random.sample(range(20_000, 32_000), 100):
        with socket.socket() as trial:
            if trial.connect_ex(("127.0.0.1", port)) != 0:
                return port
    raise RuntimeError("No port from 20000 to 31999 is free.")


@contextmanager
def practice_service(store: Path, *, seed: int = 1, port: int = 0, speed: float = 1.0) -> Iterator[str]:
    """Run it for as long as the block lasts, and give the page's address."""
    with practice_process(store, seed=seed, port=port, speed=speed) as (_, address):
        yield address


@contextmanager
def practice_process(
    store: Path, *, seed: int = 1, port: int = 0, speed: float = 1.0
) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """Run it likewise, and give the process too: to be killed, say."""
    settings = {"--port": port, "--seed": seed, "--speed": speed, "--store": store}
    given = [str(part) for setting in settings.items() for part in setting]
    command = [sys.executable, "-m", "server", "practice", *given]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True) as service:
        try:
            yield service, _address(service)
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
