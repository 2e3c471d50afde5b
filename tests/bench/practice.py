"""A practice bench as a child process, for runs over real sockets."""

import json
import socket
import subprocess
import sys
import time
from collections.abc import Generator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

PATIENCE_S = 60.0
"""How long a test waits for another process before it fails. Never how long that takes."""


@dataclass(frozen=True)
class Practice:
    """The addresses of a running practice bench, and its hands."""

    source: str
    meter: str
    counter: str
    hands: str
    sound: str = ""

    def do(self, **task: Any) -> dict[str, Any]:  # noqa: ANN401 - JSON
        """Have the hands do one thing."""
        host, port = self.hands.split(":")
        with socket.create_connection((host, int(port)), timeout=PATIENCE_S) as link:
            lines = link.makefile("rw")
            lines.write(json.dumps(task) + "\n")
            lines.flush()
            reply: dict[str, Any] = json.loads(lines.readline())
        assert reply["ok"], reply
        return reply

    def wait_until_on(self) -> None:
        """Wait until the source's output is on."""
        until_s = time.monotonic() + PATIENCE_S
        while self.ask(self.source, "OUTP?") != "1":
            assert time.monotonic() < until_s, "the output never came on"
            time.sleep(0.02)

    def ask(self, address: str, question: str) -> str:
        """Put one SCPI question to an instrument, on a socket of our own."""
        _, host, port, _ = address.split("::")
        with socket.create_connection((host, int(port)), timeout=PATIENCE_S) as link:
            lines = link.makefile("rw", newline="\n")
            lines.write(question + "\n")
            lines.flush()
            return lines.readline().strip()


@contextmanager
def practice(*arguments: str) -> Generator[Practice]:
    """Start a bench, and end it with the block."""
    with subprocess.Popen(
        [sys.executable, "-m", "simulators", *arguments], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as process:
        assert process.stdout is not None
        assert process.stdin is not None
        yield Practice(**json.loads(process.stdout.readline()))
        process.stdin.close()
        process.wait(PATIENCE_S)
