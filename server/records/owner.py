"""Which program has something in hand, and whether it still lives."""

import socket
from dataclasses import dataclass
from typing import Self

import psutil

SAME_START_S = 1.0


@dataclass(frozen=True, slots=True)
class Owner:
    """A process: its number, when it began, and the machine both count on."""

    host: str | None
    pid: int
    began: float

    @property
    def said(self) -> str:
        """Name it to a person."""
        return f"process {self.pid} on {self.host or 'this machine'}"

    @classmethod
    def this_process(cls) -> Self:
        """Give the one that runs this."""
        process = psutil.Process()
        return cls(socket.gethostname(), process.pid, process.create_time())

    def lives_here(self) -> bool:
        """Tell whether it runs on this machine: its number may meanwhile belong to another."""
        try:
            return abs(psutil.Process(self.pid).create_time() - self.began) < SAME_START_S
        except psutil.Error:
            return False
