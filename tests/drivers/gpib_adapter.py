"""An emulated Ethernet-to-GPIB adapter: `++` commands to itself, everything else to the instrument it is addressed to.

Only what a controller needs: ++mode, ++auto, ++addr, ++read, ++clr and settings that are taken and forgotten. An
escape byte takes the next byte as it is, so that `+`, CR and LF can be data.
"""

from __future__ import annotations

from collections import deque
from typing import TYPE_CHECKING

from tests.drivers.peers import Connection, Peer

if TYPE_CHECKING:
    from collections.abc import Callable

_ESCAPE = 0x1B


class GpibAdapter(Peer):
    """Serves the instruments of a bus by their primary addresses."""

    def __init__(self, instruments: dict[int, Callable[[str], str | None]]) -> None:
        super().__init__(self._serve_bus)
        self._instruments = instruments
        self._answers: dict[int, deque[str]] = {address: deque() for address in instruments}
        self.orders: list[str] = []

    def at(self, primary: int, board: int = 0) -> str:
        """Where an instrument is, as a bench file writes it."""
        return f"PRLGX-TCPIP{board}::127.0.0.1::{self.port}::INTFC GPIB{board}::{primary}::INSTR"

    def _serve_bus(self, connection: Connection) -> None:
        addressed = 0
        while (line := self._line(connection)) is not None:
            if not line.startswith("++"):
                self._listen(addressed, line)
                continue
            order, _, value = line[2:].partition(" ")
            self.orders.append(line)
            if order == "addr":
                addressed = int(value)
            elif order == "clr" and addressed in self._answers:
                self._answers[addressed].clear()
            elif order == "read" and self._answers.get(addressed):
                connection.say(self._answers[addressed].popleft().encode() + b"\n")

    def _listen(self, addressed: int, message: str) -> None:
        if addressed in self._instruments and (reply := self._instruments[addressed](message)) is not None:
            self._answers[addressed].append(reply)

    @staticmethod
    def _line(connection: Connection) -> str | None:
        """Read to an LF that is not escaped."""
        line = bytearray()
        try:
            while (byte := connection.exactly(1)) != b"\n":
                line += connection.exactly(1) if byte[0] == _ESCAPE else byte
        except ConnectionError:
            return None
        return line.decode().rstrip("\r")
