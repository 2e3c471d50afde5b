"""The lines a person types: waited for at a prompt, or looked for in passing while an adjuster is turned."""

import os
import select
import sys

PIECE = 4096


class TypedLines:
    """Reads a file descriptor itself, so that no line lies hidden in a buffer while it is looked for."""

    def __init__(self, descriptor: int = 0) -> None:
        """Read there; 0 is the standard input."""
        self._descriptor = descriptor
        self._typed = b""
        self._ended = False

    def read(self, prompt: str) -> str:
        """Show a prompt and wait for a line; give it without its end.

        Raises:
            EOFError: no more lines come.
        """
        sys.stdout.write(prompt)
        sys.stdout.flush()
        while (line := self._line()) is None:
            self._take()
        return line

    def glance(self) -> str | None:
        """Give a line where one has been typed, or None.

        Raises:
            EOFError: no more lines come.
        """
        while (line := self._line()) is None and self._has_more():
            self._take()
        return line

    def _line(self) -> str | None:
        line, end, rest = self._typed.partition(b"\n")
        if not end and not (self._ended and self._typed):
            if self._ended:
                raise EOFError
            return None
        self._typed = rest
        return line.decode(errors="replace").rstrip("\r")

    def _take(self) -> None:
        piece = os.read(self._descriptor, PIECE)
        self._typed += piece
        self._ended = not piece

    def _has_more(self) -> bool:
        if sys.platform == "win32":
            import msvcrt  # noqa: PLC0415 - there is none elsewhere

            return msvcrt.kbhit()
        return bool(select.select([self._descriptor], [], [], 0.0)[0])
