"""The program's one log: beside the record, for its owner alone, in lines and files of bounded length."""

import io
import logging
import os
from logging.handlers import RotatingFileHandler
from pathlib import Path

from server.plain_text import on_one_line

LOG_BYTES = 1_000_000
LONGEST_LINE = 2_000
OWNERS_FILE = 0o600

OTHERS_LOUDEST = {"uvicorn.error": logging.CRITICAL, "asyncio": logging.ERROR}
"""What a peer does wrong is no fault of ours: the web server's word on it would fill the log."""


class _BoundedLines(logging.Formatter):
    """One entry a line but for tracebacks, with nothing in it that a terminal would obey."""

    def format(self, record: logging.LogRecord) -> str:
        """Give the entry; a fault of the program keeps its traceback, cut where it gets too long."""
        lines = [on_one_line(line)[:LONGEST_LINE] for line in super().format(record).split("\n")]
        return "\n".join(lines)[: 10 * LONGEST_LINE]


class _PrivateFile(RotatingFileHandler):
    """A log that nobody else can read, from its first byte on."""

    def _open(self) -> io.TextIOWrapper:
        def private(path: str, flags: int) -> int:
            return os.open(path, flags, OWNERS_FILE)

        opened = io.TextIOWrapper(io.FileIO(self.baseFilename, self.mode, opener=private), encoding="utf-8")
        if os.name == "posix":
            os.fchmod(opened.fileno(), OWNERS_FILE)  # one that an earlier version made
        return opened


def log_path(store_path: Path) -> Path:
    """Give the log that belongs to a record."""
    return store_path.with_suffix(".log")


def log_to(path: Path, level: str = "warning") -> None:
    """Write what happens to a file, from this level on: the terminal is for sentences."""
    handler = _PrivateFile(path, maxBytes=LOG_BYTES, backupCount=1, delay=True, encoding="utf-8")
    handler.setFormatter(_BoundedLines("%(asctime)s %(levelname)s %(name)s %(message)s"))
    logging.basicConfig(handlers=[handler], level=level.upper())
    for name, loudest in OTHERS_LOUDEST.items():
        logging.getLogger(name).setLevel(max(loudest, logging.getLevelName(level.upper())))
