"""A process that outlives the program switches the source off where the program died or stood still with it on."""

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from queue import SimpleQueue
from threading import Thread

import pytest

from server.bench.file import BY_HAND, SourceEntry
from server.bench.guardian import BEAT, OFF, ON, Guardian, guarded
from server.guardian_process import GAVE_UP, SWITCHED_OFF, guard
from server.practice.process import practice_bench
from tests.server.benches import PATIENCE_S, eventually

Words = SimpleQueue["str | None"]


class Source:
    """Confirms after so many tries."""

    def __init__(self, confirms_after: int = 1) -> None:
        """Count from none."""
        self.tries = 0
        self._after = confirms_after

    def switch_off(self) -> bool:
        """Try."""
        self.tries += 1
        return self.tries >= self._after


def guarding(source: Source, *words: str | None) -> tuple[bool, list[str]]:
    """Guard a source through these words to the end; give whether it is off, and what was said."""
    queue: Words = SimpleQueue()
    for word in words:
        queue.put(word)
    said: list[str] = []
    return guard(queue, source.switch_off, said.append, silence_s=0.01, try_every_s=0.001), said


@pytest.mark.parametrize("words", [(None,), (ON, OFF, None), (BEAT, ON, BEAT, OFF, BEAT, None)])
def test_a_program_that_ends_with_the_source_off_leaves_nothing_to_do(words: tuple[str | None, ...]) -> None:
    source = Source()

    assert guarding(source, *words) == (True, [])
    assert source.tries == 0


@pytest.mark.parametrize("tries", [1, 5])
def test_a_program_that_ends_with_the_source_on_has_it_switched_off(tries: int) -> None:
    """However often that takes."""
    source = Source(tries)

    assert guarding(source, ON, BEAT, None) == (True, [SWITCHED_OFF])
    assert source.tries == tries


def test_silence_with_the_source_on_switches_it_off() -> None:
    """The program stands still; what it says when it goes on is heard again."""
    source, words, said = Source(), SimpleQueue["str | None"](), list[str]()
    words.put(ON)
    thread = Thread(target=lambda: guard(words, source.switch_off, said.append, silence_s=0.01, try_every_s=0.001))
    thread.start()
    eventually(lambda: said == [SWITCHED_OFF])
    time.sleep(0.05)
    words.put(None)
    thread.join()

    assert source.tries == 1


def test_a_source_that_never_confirms_is_given_up_and_said() -> None:
    """After so long; the record still knows."""
    words: Words = SimpleQueue()
    words.put(ON)
    words.put(None)
    times = iter((0.0, 1.0, 1e6))
    said: list[str] = []

    assert guard(words, lambda: False, said.append, try_every_s=0.0, clock=lambda: next(times)) is False
    assert said == [GAVE_UP]


@pytest.fixture
def source() -> Iterator[SourceEntry]:
    """A simulated source on a real socket."""
    with practice_bench(["--seed", "1", "--instant"]) as bench:
        assert bench.bench_file.source is not None
        yield bench.bench_file.source


SWITCHED_ON = """
import sys, time
from server.bench.file import BenchFile, SourceEntry
from server.bench.guarded_bench import GuardedBench
from server.bench.guardian import guarded
from server.bench.output_ledger import OutputLedger
from server.wiring import open_bench
entry = SourceEntry.model_validate_json(sys.argv[1])
with guarded(entry) as guardian:
    bench = GuardedBench(open_bench(BenchFile(source=entry)), OutputLedger(guardian=guardian))
    bench.bench.source.set_power(-60.0)
    bench.bench.source.set_output(True)
    print("on", flush=True)
    time.sleep(1000)
"""


def output_of(address: str) -> Callable[[], bool]:
    """Give a question to a source whether its output is on, by a link of its own."""
    _, host, port, _ = address.split("::")

    def ask() -> bool:
        with socket.create_connection((host, int(port)), PATIENCE_S) as link:
            link.sendall(b":OUTP?\n")
            return link.recv(100).strip() == b"1"

    return ask


@pytest.mark.skipif(os.name != "posix", reason="kill is POSIX's")
def test_a_program_that_is_killed_outright_has_its_source_switched_off(source: SourceEntry, tmp_path: Path) -> None:
    """SIGKILL, which no program hears; seen at the instrument itself."""
    is_on = output_of(source.address)
    command = [sys.executable, "-c", SWITCHED_ON, source.model_dump_json()]
    with (tmp_path / "said").open("w") as said:
        program = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=said, text=True)
        assert program.stdout is not None
        assert program.stdout.readline() == "on\n"
        assert is_on()
        program.send_signal(signal.SIGKILL)
        program.wait()
        program.stdout.close()

        eventually(lambda: not is_on())
    eventually(lambda: SWITCHED_OFF in (tmp_path / "said").read_text(encoding="utf-8"))


def test_a_guardian_that_is_gone_harms_nobody(source: SourceEntry) -> None:
    """The bench goes on without."""
    guardian = Guardian(source)
    guardian._process.kill()  # noqa: SLF001 - as somebody might
    guardian._process.wait()  # noqa: SLF001 - the same
    guardian.goes_on()
    guardian.is_off()
    guardian.close()


@pytest.mark.parametrize("entry", [None, SourceEntry(address=BY_HAND)])
def test_what_cannot_be_switched_from_here_has_no_guardian(entry: SourceEntry | None) -> None:
    with guarded(entry) as guardian:
        assert guardian is None
