"""What a headless scan says while it runs, and above all when the source may still be on."""

import io

import pytest

from sequences.engine.events import Ending, Notice, Progress, RunEnded
from sequences.engine.run import UNCONFIRMED
from server.terminal.scan_progress import ScanProgress


@pytest.mark.parametrize("ending", list(Ending))
def test_an_output_that_was_not_confirmed_off_is_said_however_the_run_ended(ending: Ending) -> None:
    stream = io.StringIO()

    with ScanProgress(stream) as progress:
        progress(RunEnded(ending, "The end.", output_off=False))

    assert stream.getvalue().strip() == UNCONFIRMED


def test_without_a_terminal_progress_is_a_line_now_and_then() -> None:
    stream = io.StringIO()

    with ScanProgress(stream) as progress:
        for reading in range(1, 101):
            progress(Progress(reading / 100, 100.0 - reading, f"Reading {reading} of 100"))
        progress(Notice("Asking again."))
        progress(RunEnded(Ending.COMPLETED, "The run is complete.", output_off=True))

    lines = stream.getvalue().splitlines()
    assert len(lines) == 11
    assert lines[0] == "Reading 10 of 100, 10% done, about 90 s left"
    assert lines[-1] == "Asking again."
