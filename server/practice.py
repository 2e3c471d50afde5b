"""The practice bench: simulated instruments around simulated receivers, a process of its own that dies with us."""

import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from threading import Thread
from typing import IO

from server.bench_file import BenchFile, CounterEntry, MeterEntry, SourceEntry
from server.errors import PracticeError
from server.hands import Hands

START_DEADLINE_S = 30.0
STOP_DEADLINE_S = 3.0
PRACTICE_CEILING_DBM = 10.0


@dataclass(frozen=True, slots=True)
class PracticeBench:
    """A running practice bench."""

    bench_file: BenchFile
    hands: Hands
    pid: int


@contextmanager
def practice_bench(arguments: Sequence[str]) -> Iterator[PracticeBench]:
    """Start a practice bench, and end it with the block.

    Args:
        arguments: what `python -m simulators` is given.

    Raises:
        PracticeError: it did not start.
    """
    with tempfile.TemporaryFile("w+") as complaints:
        process = _start(arguments, complaints)
        try:
            ready = _ready_line(process, complaints)
            yield PracticeBench(_bench_file(ready), Hands(ready["hands"]), process.pid)
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
        return {name: str(ready[name]) for name in ("source", "meter", "counter", "hands")}
    except (IndexError, ValueError, KeyError, TypeError) as error:
        complaints.seek(0)
        said = complaints.read().strip().splitlines() or ["it said nothing"]
        raise PracticeError(f"The practice bench did not start ({said[-1]}).") from error


def _read_lines(stream: IO[str], lines: list[str]) -> None:
    line = stream.readline()
    if line:
        lines.append(line)


def _bench_file(ready: dict[str, str]) -> BenchFile:
    return BenchFile(
        source=SourceEntry(address=ready["source"], ceiling_dbm=PRACTICE_CEILING_DBM),
        meter=MeterEntry(address=ready["meter"]),
        counter=CounterEntry(address=ready["counter"]),
    )


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
