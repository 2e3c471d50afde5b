"""The practice bench: simulated instruments around simulated receivers, a process of its own that dies with us."""

import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from functools import cached_property
from threading import Thread
from typing import IO

from server.bench.file import BenchFile, CounterEntry, MeterEntry, SourceEntry
from server.errors import PracticeError
from server.practice.hands import Hands

START_DEADLINE_S = 30.0
STOP_DEADLINE_S = 3.0
PRACTICE_CEILING_DBM = 10.0


class PracticeBench:
    """A practice bench that has been started. What it must tell of itself is waited for when it is asked for."""

    def __init__(self, process: subprocess.Popen[str], complaints: IO[str]) -> None:
        self._process = process
        self._complaints = complaints

    @property
    def pid(self) -> int:
        """The number of its process."""
        return self._process.pid

    @cached_property
    def bench_file(self) -> BenchFile:
        """Its instruments by role.

        Raises:
            PracticeError: it did not start.
        """
        return BenchFile(
            source=SourceEntry(address=self._ready["source"], ceiling_dbm=PRACTICE_CEILING_DBM),
            meter=MeterEntry(address=self._ready["meter"]),
            counter=CounterEntry(address=self._ready["counter"]),
        )

    @cached_property
    def sound(self) -> str:
        """Where the receiver is to be heard.

        Raises:
            PracticeError: it did not start.
        """
        return self._ready["sound"]

    @cached_property
    def hands(self) -> Hands:
        """Whoever moves its leads.

        Raises:
            PracticeError: it did not start.
        """
        return Hands(self._ready["hands"])

    @cached_property
    def _ready(self) -> dict[str, str]:
        return _ready_line(self._process, self._complaints)


@contextmanager
def practice_bench(arguments: Sequence[str]) -> Iterator[PracticeBench]:
    """Start a practice bench, and end it with the block. It comes up while the caller goes on with its own start.

    Args:
        arguments: what `python -m simulators` is given.
    """
    with tempfile.TemporaryFile("w+") as complaints:
        process = _start(arguments, complaints)
        try:
            yield PracticeBench(process, complaints)
        finally:
            _end(process)


def _start(arguments: Sequence[str], complaints: IO[str]) -> subprocess.Popen[str]:
    # A session of its own keeps a Ctrl-C at the terminal from killing the instruments before the source is off. Its
    # standard input stays open as long as we live: when that closes, even by our sudden death, it ends by itself.
    return subprocess.Popen(  # noqa: S603 - our own interpreter and package
        [sys.executable, "-m", "simulators", *arguments],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=complaints,
        text=True,
        start_new_session=os.name == "posix",
    )


def _ready_line(process: subprocess.Popen[str], complaints: IO[str]) -> dict[str, str]:
    lines: list[str] = []
    assert process.stdout is not None  # noqa: S101 - asked for above
    reader = Thread(target=_read_lines, args=(process.stdout, lines), daemon=True)
    reader.start()
    reader.join(START_DEADLINE_S)
    try:
        ready = json.loads(lines[0])
        return {name: str(ready[name]) for name in ("source", "meter", "counter", "hands", "sound")}
    except (IndexError, ValueError, KeyError, TypeError) as error:
        complaints.seek(0)
        said = complaints.read().strip().splitlines() or ["it said nothing"]
        raise PracticeError(f"The practice bench did not start ({said[-1]}).") from error


def _read_lines(stream: IO[str], lines: list[str]) -> None:
    line = stream.readline()
    if line:
        lines.append(line)


def _end(process: subprocess.Popen[str]) -> None:
    with suppress(OSError):
        if process.stdin is not None:
            process.stdin.close()
    try:
        process.wait(STOP_DEADLINE_S)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
    if process.stdout is not None:
        process.stdout.close()
