"""The bench as a process: one line when ready, gone when its parent is."""

import json
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from tests.simulators.benches import Bench

ROOT = Path(__file__).parents[2]
DEADLINE_S = 60.0


@contextmanager
def process(*arguments: str) -> Iterator[subprocess.Popen[str]]:
    """Run a bench; make sure it is gone afterwards."""
    command = [sys.executable, "-m", "simulators", *arguments]
    pipe = subprocess.PIPE
    with subprocess.Popen(command, cwd=ROOT, stdin=pipe, stdout=pipe, stderr=pipe, text=True) as running:
        try:
            yield running
        finally:
            running.kill()


def addresses(running: subprocess.Popen[str]) -> dict[str, str]:
    """Read the line that says the bench is ready."""
    assert running.stdout is not None
    line: dict[str, str] = json.loads(running.stdout.readline())
    return line


def test_it_says_where_it_listens_and_ends_when_its_input_closes() -> None:
    """So it dies with whoever started it, however that one ends."""
    with process("--seed", "5", "--instant") as running:
        bench = Bench(addresses(running))
        assert set(bench.addresses) == {"source", "meter", "counter", "hands", "sound"}
        assert bench.source.ask("*IDN?") == "Peakwright Practice,Signal Source,000005,1.0"

        assert running.stdin is not None
        running.stdin.close()

        assert running.wait(DEADLINE_S) == 0
        bench.close()


def test_it_ends_on_the_signal_to_end_even_in_the_middle_of_a_reading() -> None:
    """Exit status 0: it was asked to."""
    with process("--delays", "meter=3600") as running:
        bench = Bench(addresses(running))
        bench.meter.send("READ?")

        running.send_signal(signal.SIGTERM)

        assert running.wait(DEADLINE_S) == 0
        bench.close()


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--delays", "toaster=1"), "--delays has no key 'toaster'"),
        (("--delays", "meter=soon"), "--delays meter must be a number of seconds"),
        (("--table", "/nowhere/at/all.csv"), "cannot be read"),
        (("--speed", "0"), "--speed must be a number above 0"),
    ],
)
def test_what_it_cannot_do_is_one_sentence_on_standard_error(arguments: tuple[str, ...], told: str) -> None:
    """And nothing on standard output, where a parent waits for addresses."""
    with process(*arguments) as running:
        output, complaint = running.communicate(timeout=DEADLINE_S)

    assert running.returncode == 2
    assert output == ""
    assert told in complaint
    assert complaint.count("\n") == 1


def test_time_on_the_bench_may_run_faster_than_on_the_wall() -> None:
    """An hour's delay at 36 000 times the speed: the reading comes, and the receiver has warmed up meanwhile."""
    with process("--cold", "--speed", "36000", "--delays", "meter=3600") as running:
        bench = Bench(addresses(running))
        bench.meter.number("READ?")

        first_hz, later_hz = bench.truth()["oscillators"]["third oscillator"], 0.0
        bench.meter.number("READ?")
        later_hz = bench.truth()["oscillators"]["third oscillator"]

        assert later_hz == pytest.approx(first_hz, abs=0.2)
        bench.close()


def test_a_table_is_served_through_the_meter(tmp_path: Path) -> None:
    """Level and source power add in dB; between the rows the level is interpolated in dB."""
    table = tmp_path / "response.csv"
    table.write_text("frequency_hz,level_db\n1000,-20\n2000,0\n3000,-20\n")
    with process("--table", str(table), "--instant") as running:
        bench = Bench(addresses(running))

        readings = []
        for frequency_hz, power_dbm in ((2000.0, 0.0), (1000.0, 0.0), (1500.0, 0.0), (2000.0, -20.0), (9e6, 0.0)):
            bench.send_signal(frequency_hz, power_dbm)
            readings.append(bench.meter.number("READ?"))

        assert readings[0] == pytest.approx(0.2236068, rel=1e-6)
        assert [one / readings[0] for one in readings[1:]] == pytest.approx([0.1, 10**-0.5, 0.1, 0.1], rel=1e-9)
        assert bench.truth()["scan"]["peak_hz"] == pytest.approx(2000.0, abs=0.01)
        bench.close()


def test_a_table_may_stand_behind_another_law_and_carry_noise(tmp_path: Path) -> None:
    """A square law doubles the decibels; noise is drawn from the seed."""
    table = tmp_path / "response.csv"
    table.write_text("frequency_hz,level_db\n1000,-10\n2000,0\n")
    with process("--table", str(table), "--instant", "--law", "square", "--noise-db", "0.1") as running:
        bench = Bench(addresses(running))
        bench.send_signal(2000.0, 0.0)
        top = [bench.meter.number("READ?") for _ in range(50)]
        bench.send_signal(1000.0, 0.0)
        low = [bench.meter.number("READ?") for _ in range(50)]
        bench.close()

    assert len(set(top)) == 50
    assert sum(low) / sum(top) == pytest.approx(0.1, rel=0.03)


def test_a_table_with_a_hole_in_it_is_refused(tmp_path: Path) -> None:
    """The file is named."""
    table = tmp_path / "response.csv"
    table.write_text("frequency_hz,level_db\n1000,-10\n2000,loud\n")
    with process("--table", str(table)) as running:
        _, complaint = running.communicate(timeout=DEADLINE_S)

    assert "response.csv must have the columns frequency_hz and level_db" in complaint
