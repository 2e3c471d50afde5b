"""Killed outright at random moments, a writer loses nothing that it showed, and the next one goes on where it was."""

import os
import random
import signal
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import IO

import pytest

from server.records.runs import INTERRUPTED
from server.records.store import Store
from tests.server.records.killed_writer import JOB as JOB_ID
from tests.server.records.samples import JOB

KILLS = {"sqlite": 200, "postgresql": 30}
MOST_LINES = 16
"""A step with its run has twelve."""

LONGEST_WAIT_S = {True: 0.05, False: 0.005}
"""After the last line that is waited for; longer where that was the first of all, since then the record is opened."""


@dataclass
class Shown:
    """What a writer showed before it died: its run's number, readings and end where it came to one, and notes."""

    runs: dict[int, list[int]] = field(default_factory=dict)
    ended: set[int] = field(default_factory=set)
    notes: int = 0

    def hear(self, line: str) -> None:
        """Take in a line."""
        word, _, number = line.partition(" ")
        if word == "run":
            self.runs[int(number)] = []
        elif word == "reading":
            self.runs[max(self.runs)].append(int(number))
        elif word == "ended":
            self.ended.add(int(number))
        elif word == "noted":
            self.notes += 1


@contextmanager
def nursery() -> Iterator[tuple[IO[str], IO[str]]]:
    """Where writers come from: the file that one is ordered through, and the file that all speak through."""
    command = [sys.executable, "-m", "tests.server.records.killed_writer"]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        yield process.stdin, process.stdout
        process.stdin.close()


def live_and_die(orders: IO[str], words: IO[str], place: str, draw: random.Random) -> Shown:
    """Let a writer say a number of lines, kill it a moment later, and tell what it showed."""
    orders.write(f"{place}\n")
    orders.flush()
    pid = int(words.readline().removeprefix("pid "))
    shown = Shown()
    lines = draw.randrange(MOST_LINES)
    for _ in range(lines):
        shown.hear(words.readline().strip())
    time.sleep(draw.uniform(0.0, LONGEST_WAIT_S[lines == 0]))
    os.kill(pid, signal.SIGKILL)
    while (line := words.readline().strip()) != "dead":
        shown.hear(line)
    return shown


def check(store: Store, shown: Shown, notes_before: int) -> int:
    """Hold the record to what was shown; give how many notes it has now."""
    for number, readings in shown.runs.items():
        run = store.run(number)
        kept = [reading["index"] for reading in run["readings"]]
        assert kept[: len(readings)] == readings
        assert len(kept) <= len(readings) + 1  # one may have been kept that nobody saw
        assert number not in shown.ended or run["ending"] == "completed"
        assert run["ending"] in {"completed", INTERRUPTED}
    notes = len(store.notes(JOB_ID))
    assert notes_before + shown.notes <= notes <= notes_before + shown.notes + 1
    return notes


@pytest.mark.timeout(600)
def test_what_a_killed_writer_showed_is_kept_and_the_next_goes_on(place: str, request: pytest.FixtureRequest) -> None:
    """Each kill is at a moment drawn anew: while the record opens, within a run, between runs."""
    draw = random.Random(6)  # noqa: S311 - moments, not secrets
    store = Store(place)
    assert store.begin_job(JOB) == JOB_ID
    store.close()
    notes, all_shown = 0, []
    with nursery() as (orders, words):
        for _ in range(KILLS[request.node.callspec.params["place"]]):
            shown = live_and_die(orders, words, place, draw)
            all_shown.append(shown)
            store = Store(place)
            notes = check(store, shown, notes)
            store.claim(JOB_ID)  # the dead do not keep it
            store.close()

    store = Store(place)
    for shown in all_shown:
        for number, readings in shown.runs.items():
            kept = [reading["index"] for reading in store.run(number)["readings"]]
            assert kept[: len(readings)] == readings  # still, after all those that came later
    if store.place.file is not None:
        with store._reading() as connection:  # noqa: SLF001 - the file's own check of itself
            assert connection.exec_driver_sql("PRAGMA integrity_check").scalar_one() == "ok"
    endings = Counter(run["ending"] for run in store.job(JOB_ID)["runs"])
    store.close()
    assert set(endings) == {INTERRUPTED, "completed"}  # kills fell within runs, and the job went on all the same
    assert min(endings.values()) > len(all_shown) / 10
