"""A talk with `peakwright align`: the test reads what the program prints up to a prompt, and types an answer."""

import fcntl
import os
import pty
import select
import signal
import subprocess
import termios
import time
from pathlib import Path
from typing import Any, Self

from sequences.engine.events import Asked
from server.records.store import Store
from tests.bench.command_line import PROGRAM

PROMPT = " > "
PATIENCE_S = 60.0


class Talk:
    """The program on a pipe, or on a terminal of its own."""

    def __init__(self, *arguments: str, store: Path | str, terminal: bool = False) -> None:
        """Start it."""
        self.store = store
        master, slave = pty.openpty() if terminal else (None, None)
        self._terminal = master
        self.process = subprocess.Popen(
            [PROGRAM, "align", *arguments, "--store", str(store)],
            stdin=subprocess.PIPE if slave is None else slave,
            stdout=subprocess.PIPE if slave is None else slave,
            stderr=subprocess.PIPE,
            start_new_session=True,
            preexec_fn=_own_terminal if terminal else None,  # noqa: PLW1509 - this test has no threads yet
            env={**os.environ, "TERM": "dumb", "COLUMNS": "100"},
        )
        if slave is not None:
            os.close(slave)
        self._output = master if master is not None else self._fd(self.process.stdout)
        self.heard = ""

    @staticmethod
    def _fd(stream: Any) -> int:  # noqa: ANN401 - the pipe's class depends on how it was opened
        return int(stream.fileno())

    def __enter__(self) -> Self:
        """Talk."""
        return self

    def __exit__(self, *_: object) -> None:
        """End what still runs."""
        self.process.kill()
        self.process.wait()
        for stream in (self.process.stdin, self.process.stdout, self.process.stderr):
            if stream is not None:
                stream.close()
        if self._terminal is not None:
            os.close(self._terminal)

    def listen(self) -> str | None:
        """Read up to the next prompt and give what was printed; None where the program came to its end."""
        said = ""
        deadline_s = time.monotonic() + PATIENCE_S
        while not said.endswith(PROMPT):
            assert time.monotonic() < deadline_s, f"no prompt came; heard so far: {said}"
            if not select.select([self._output], [], [], 1.0)[0]:
                continue
            piece = self._read()
            if not piece:
                self.heard += said
                return None
            said += piece
            deadline_s = time.monotonic() + PATIENCE_S  # patience is with silence: a whole walk may take long
        self.heard += said
        return said

    def _read(self) -> str:
        try:
            return os.read(self._output, 65536).decode()
        except OSError:  # a terminal whose other side is closed
            return ""

    def type(self, line: str) -> None:
        """Type a line."""
        os.write(self._terminal or self._fd(self.process.stdin), f"{line}\n".encode())

    def press(self, key: bytes) -> None:
        """Press a key of the terminal."""
        assert self._terminal is not None
        os.write(self._terminal, key)

    def send(self, number: signal.Signals) -> None:
        """Send a signal."""
        self.process.send_signal(number)

    def end(self) -> tuple[int, str]:
        """Wait for the end; give exit status and standard error."""
        while self.listen() is not None:
            raise AssertionError(f"the program went on asking: {self.heard[-500:]}")
        status = self.process.wait(PATIENCE_S)
        assert self.process.stderr is not None
        return status, self.process.stderr.read().decode()

    def job(self) -> dict[str, Any]:
        """Give the latest job as it stands in the record now, its runs with their readings and events."""
        store = Store(self.store)
        try:
            job = store.job(store.jobs()[0]["id"])
            return {**job, "runs": [store.run(run["id"]) for run in job["runs"]]}
        finally:
            store.close()

    def asked(self) -> Asked:
        """Give the question that the run asked last, as it stands in the record."""
        last = [event for event in self.job()["runs"][-1]["events"] if event["kind"] == "Asked"][-1]
        return Asked(last["action"], last["subject"], last["text"], tuple(last["answers"]), last["detail"])


def _own_terminal() -> None:
    """Make standard input the terminal whose Ctrl-C this process hears."""
    fcntl.ioctl(0, termios.TIOCSCTTY, 0)
