"""What went over the wire, in a file of bounded size, to attach to a report of a fault.

A line for each message and each answer: time, instrument, direction, text. The instrument is a number, and its serial
number is masked, unless the person wants them shown.
"""

from __future__ import annotations

import logging
import re
import threading
from dataclasses import dataclass, field
from logging.handlers import RotatingFileHandler
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

LARGEST_BYTES = 2_000_000
_LONGEST_TEXT = 500
# An answer to *IDN? is maker, model, serial number, firmware: the third field is masked.
_IDENTITY = re.compile(r"^((?:\d+;)?[^,;\"]+,[^,\"]+,)([^,\"]+)(,.*)?$")


@dataclass(slots=True)
class WireTrace:
    """Where the wire is written down; nowhere before `begin`."""

    _logger: logging.Logger | None = None
    _masked: bool = True
    _numbers: dict[str, int] = field(default_factory=dict)
    _lock: threading.Lock = field(default_factory=threading.Lock)

    @property
    def is_on(self) -> bool:
        """Whether anything is written."""
        return self._logger is not None

    def begin(self, path: Path, *, masked: bool = True) -> None:
        """Write to a file, and to one more once it is full.

        Raises:
            OSError: The file cannot be written.
        """
        handler = RotatingFileHandler(path, maxBytes=LARGEST_BYTES // 2, backupCount=1, encoding="utf-8")
        handler.setFormatter(logging.Formatter("%(asctime)s.%(msecs)03d %(message)s", "%H:%M:%S"))
        logger = logging.Logger("wire", logging.INFO)  # noqa: LOG001 - it is no part of the program's log
        logger.addHandler(handler)
        self.end()
        self._logger, self._masked = logger, masked

    def end(self) -> None:
        """Write no more."""
        logger, self._logger = self._logger, None
        for handler in logger.handlers if logger is not None else ():
            handler.close()

    def sent(self, address: str, message: str) -> None:
        """Note a message."""
        self._write(address, "->", message)

    def received(self, address: str, reply: str) -> None:
        """Note an answer."""
        self._write(address, "<-", _IDENTITY.sub(r"\1*\3", reply) if self._masked else reply)

    def failed(self, address: str, error: Exception) -> None:
        """Note what came instead of an answer."""
        said = str(error)
        self._write(address, "!!", said.replace(address, self._name(address)) if self._masked else said)

    def _write(self, address: str, direction: str, text: str) -> None:
        logger = self._logger
        if logger is not None:
            logger.info("%s %s %s", self._name(address), direction, ascii(text[:_LONGEST_TEXT])[1:-1])

    def _name(self, address: str) -> str:
        if not self._masked:
            return address
        with self._lock:
            return f"instrument-{self._numbers.setdefault(address, len(self._numbers) + 1)}"


WIRE_TRACE = WireTrace()
"""The trace of this program: one file for all its instruments, so that their order in time shows."""
