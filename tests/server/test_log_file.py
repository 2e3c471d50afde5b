"""The log is its owner's, its lines are bounded, and nothing in it or on the terminal commands a terminal."""

import io
import logging
import os
import stat
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.table import Table

from server.log_file import LONGEST_LINE, log_path, log_to
from server.plain_text import on_one_line
from server.terminal.alarm import TerminalAlarm
from server.terminal.console import HarmlessConsole


@pytest.fixture
def log(tmp_path: Path) -> Iterator[Path]:
    """A log, with what was there before put back afterwards."""
    root = logging.getLogger()
    before, level = root.handlers[:], root.level
    root.handlers[:] = []
    path = log_path(tmp_path / "record.sqlite")
    log_to(path, "info")
    yield path
    for handler in root.handlers:
        handler.close()
    root.handlers[:] = before
    root.setLevel(level)


def test_it_stands_beside_the_record(log: Path) -> None:
    logging.getLogger("server.test").info("Hello.")

    assert log.name == "record.log"
    assert "INFO server.test Hello." in log.read_text(encoding="utf-8")


@pytest.mark.skipif(os.name != "posix", reason="rights of files are those of POSIX")
def test_it_is_for_its_owner_alone(log: Path) -> None:
    logging.getLogger("server.test").info("Hello.")

    assert stat.S_IMODE(log.stat().st_mode) == 0o600


def test_its_lines_are_bounded_and_obey_nobody(log: Path) -> None:
    """A peer that sends a megabyte, and an owner's name that would clear the screen."""
    logging.getLogger("server.test").warning("From %s: %s", "\x1b[2J\rA. Reed", "x" * 1_000_000)

    (line,) = log.read_text(encoding="utf-8").splitlines()
    assert len(line) <= LONGEST_LINE
    assert "\x1b" not in line


def test_what_a_peer_does_wrong_is_not_in_it(log: Path) -> None:
    """The web server has a word for each."""
    logging.getLogger("uvicorn.error").warning("Invalid HTTP request received.")

    assert not log.exists() or log.read_text(encoding="utf-8") == ""


@given(st.text())
def test_a_text_on_one_line_controls_nothing(text: str) -> None:
    """ECMA-48: what moves a cursor begins with a control character of C0 or C1."""
    shown = on_one_line(text)

    assert not any(ord(each) < 0x20 or 0x7F <= ord(each) < 0xA0 for each in shown)
    assert len(shown.splitlines()) <= 1
    assert len(shown) == len(text)


class Terminal(io.StringIO):
    """What a person looks at."""

    def isatty(self) -> bool:
        """Say so."""
        return True


def entry(level: int) -> logging.LogRecord:
    """Make what the ledger says."""
    return logging.LogRecord("ledger", level, "", 0, "%s", ("The source at A may still be on.",), None)


def test_the_alarm_fills_a_terminals_width_and_rings() -> None:
    terminal = Terminal()
    TerminalAlarm(terminal).emit(entry(logging.ERROR))

    assert terminal.getvalue().startswith("\a")
    assert "OUTPUT MAY BE ON" in terminal.getvalue()
    assert "The source at A may still be on." in terminal.getvalue()


def test_the_alarm_is_plain_where_nobody_looks() -> None:
    """In a file, or another program's hands."""
    errors = io.StringIO()
    TerminalAlarm(errors).emit(entry(logging.ERROR))
    TerminalAlarm(errors).emit(entry(logging.WARNING))

    first, second = errors.getvalue().splitlines()
    assert first == "OUTPUT MAY BE ON. The source at A may still be on."
    assert second == "The source at A may still be on."


def test_a_name_cannot_command_the_terminal_it_is_shown_on() -> None:
    """ECMA-48: CSI 2 J clears the screen; OSC 0 sets the window's title."""
    shown = io.StringIO()
    console = HarmlessConsole(file=shown, width=100)
    table = Table()
    table.add_column("Owner\x1b[2J")
    table.add_row("A. Reed\x1b]0;gone\x07")
    console.print(table)
    console.print("Job of \x1b[2JA. Reed,\nin two lines.", markup=False)

    assert "\x1b" not in shown.getvalue()
    assert "\x07" not in shown.getvalue()
    assert "A. Reed,\nin two lines." in shown.getvalue()
