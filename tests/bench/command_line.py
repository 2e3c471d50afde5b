"""The program `peakwright` as a child process."""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

PROGRAM = str(Path(sys.executable).parent / "peakwright")


def start_scan(*arguments: str) -> subprocess.Popen[str]:
    """Start `peakwright scan` and return at once."""
    return subprocess.Popen([PROGRAM, "scan", *arguments], stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def run_scan(*arguments: str) -> tuple[int, str, str]:
    """Run `peakwright scan` to its end: exit status, standard output, standard error."""
    with start_scan(*arguments) as process:
        out, err = process.communicate(timeout=90)
        return process.returncode, out, err


def scan_figures(*arguments: str) -> dict[str, Any]:
    """Run `peakwright scan --json` and give its object."""
    status, out, err = run_scan(*arguments, "--json")
    assert status == 0, err
    figures: dict[str, Any] = json.loads(out)
    return figures
