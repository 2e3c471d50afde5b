"""Questions and answers as plain lines: one on standard error, one on standard input, from a keyboard or a pipe."""

from typing import TextIO

from sequences.engine.events import Asked
from sequences.errors import SequenceError, Stopped
from server.bench.stop_switch import StopSwitch
from server.by_hand.instruments import OFF
from server.terminal.typed_lines import TypedLines

_SWITCH_OFF = "Switch the output of the source off now."


class AskedLines:
    """The person of a run without page or job: sets and reads, and is asked a line at a time."""

    def __init__(self, stream: TextIO, lines: TypedLines, stop: StopSwitch) -> None:
        """Ask on `stream`, and take the answers from `lines`."""
        self._stream = stream
        self._lines = lines
        self._stop = stop

    def answer(self, asked: Asked) -> str:
        """Ask, and wait for a line. That the output goes off is told, and not waited for.

        Raises:
            Stopped: a signal came.
            SequenceError: no more answers come.
        """
        if asked.text == OFF:
            self._say(_SWITCH_OFF)
            return ""
        self._say(asked.text)
        try:
            with self._stop.at_prompt():
                return self._lines.read("")
        except KeyboardInterrupt:
            raise Stopped("The run was stopped.") from None
        except EOFError:
            raise SequenceError(f"The answers ended before the scan did; {asked.text!r} was not answered.") from None

    def signal(self) -> str | None:
        """Give no signal: nobody turns anything here."""
        return None

    def _say(self, text: str) -> None:
        self._stream.write(f"{text}\n")
        self._stream.flush()
