"""The alarm on a terminal: a banner as wide as the window and the bell, when the source may be on."""

import logging
import shutil
from typing import TextIO

BELL = "\a"
INVERSE, PLAIN = "\x1b[1;41;97m", "\x1b[0m"
WORD = "OUTPUT MAY BE ON"


class TerminalAlarm(logging.Handler):
    """Shows what the ledger of the output has to say. Colours only where a person looks."""

    def __init__(self, terminal: TextIO) -> None:
        super().__init__()
        self._terminal = terminal

    def emit(self, record: logging.LogRecord) -> None:
        """Show an entry: an alarm as a banner, its end as a line."""
        text = record.getMessage()
        if record.levelno >= logging.ERROR and record.exc_info is None:
            text = self._banner(text)
        self._terminal.write(f"{text}\n")
        self._terminal.flush()

    def _banner(self, text: str) -> str:
        if not self._terminal.isatty():
            return f"{WORD}. {text}"
        width = shutil.get_terminal_size().columns
        word = WORD.center(width)
        blank = " " * width
        return f"{BELL}{INVERSE}{blank}\n{word}\n{blank}{PLAIN}\n{text}"


def alarm_on(terminal: TextIO) -> None:
    """Show alarms on a terminal from now on."""
    logging.getLogger("server.bench.output_ledger").addHandler(TerminalAlarm(terminal))
