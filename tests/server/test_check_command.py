"""`peakwright check`, run as a person runs it."""

import subprocess
import sys
from importlib import resources
from pathlib import Path

import pytest

RECEIVERS = Path(str(resources.files("sequences") / "receivers"))


def check(*arguments: str | Path) -> subprocess.CompletedProcess[str]:
    """Run the command."""
    command = [sys.executable, "-m", "server", "check", *map(str, arguments)]
    return subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)


@pytest.mark.parametrize("name", ["skerry-7.toml", "millrace-5.toml"])
def test_a_shipped_file_closes(name: str) -> None:
    """Every table is printed, and the last line says so."""
    done = check(RECEIVERS / name)

    assert (done.returncode, done.stderr) == (0, "")
    for title in ("Frequency plan, kHz", "Images and half-IF", "Injection frequencies", "Windows", "Steps"):
        assert title in done.stdout
    assert done.stdout.rstrip().endswith(f"{name} closes: every conversion gives its IF at both ends of every band.")


def test_the_id_of_a_shipped_receiver_stands_for_its_file() -> None:
    """As it does for an alignment."""
    by_id, by_path = check("skerry-7"), check(RECEIVERS / "skerry-7.toml")

    assert (by_id.returncode, by_id.stderr) == (0, "")
    assert by_id.stdout.replace("skerry-7 closes", "skerry-7.toml closes") == by_path.stdout


def test_the_plan_of_the_skerry_7_can_be_followed_line_by_line() -> None:
    """16.2 MHz: crystal 19.4, tunable IF 3.2, tunable oscillator 3.72 MHz, 520 kHz, 435 kHz, 85 kHz."""
    done = check(RECEIVERS / "skerry-7.toml")
    line = next(line.split() for line in done.stdout.splitlines() if line.split()[:3] == ["16", "200", "16200"])

    assert " ".join(line) == "16 200 16200 19400 19400 - 16200 = 3200 3720 3720 - 3200 = 520 435 520 - 435 = 85"


def test_a_contradiction_is_printed_below_the_tables_and_fails_the_check(tmp_path: Path) -> None:
    """The tables still come, since they show where it is."""
    text = (RECEIVERS / "skerry-7.toml").read_text(encoding="utf-8")
    path = tmp_path / "mine.toml"
    path.write_text(text.replace("oscillator_khz = 435.0", "oscillator_khz = 432.0"), encoding="utf-8")
    done = check(path)

    assert done.returncode == 1
    assert "520 - 432 = 88" in done.stdout
    assert done.stderr == (
        "Conversion 'third' gives 520 kHz - 432 kHz = 88 kHz, but IF 'third IF' is 85 kHz: "
        "correct one of conversion.third.oscillator_khz or if.third.centre_khz.\n"
    )


def test_a_file_that_cannot_be_read_gives_one_sentence(tmp_path: Path) -> None:
    """No table, no traceback."""
    path = tmp_path / "mine.toml"
    path.write_text('id = "mine"\n', encoding="utf-8")
    done = check(path)

    assert (done.returncode, done.stdout) == (1, "")
    assert done.stderr == "mine.toml: name is missing: give text in quotes, 1 to 60 characters on one line.\n"
