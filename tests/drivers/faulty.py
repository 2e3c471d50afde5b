"""An instrument whose answers are doubled, late, merged, reordered, cut short or lost, by a seed and on four wires.

The answer itself is always right at the moment it is made: whatever a driver gives that belongs to another moment was
paired with the wrong question.
"""

from __future__ import annotations

import os
import random
import select
import termios
import threading
import time
import tty
from collections import deque
from contextlib import suppress
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Protocol, Self

from tests.drivers.lan_peers import HislipPeer, Vxi11Peer
from tests.drivers.peers import Connection, Peer

if TYPE_CHECKING:
    from collections.abc import Callable

KINDS = ("doubled", "doubled late", "late", "merged", "reordered", "cut short", "headless", "lost")
A_MOMENT_S = 0.0005
"""How late the second of two answers is: after the next question has set out."""


@dataclass
class Signal:
    """What flows from the source to the meter."""

    frequency_hz: float = 1e6
    power_dbm: float = -20.0
    output_on: bool = False

    def volts(self) -> float:
        """What the meter shows: another figure at every frequency, and none of them with the output off."""
        return self.frequency_hz * 1e-6 if self.output_on else -1.0


def speaks(signal: Signal, name: str) -> Callable[[str], str | None]:
    """An instrument in compound messages: source and meter in one."""
    register = "0"

    def unit(text: str) -> str | None:
        nonlocal register
        header, _, value = text.partition(" ")
        if header == "*ESE":
            register = value
        elif header == ":FREQ":
            signal.frequency_hz = float(value)
        elif header == ":POW":
            signal.power_dbm = float(value.removesuffix(" DBM"))
        elif header == ":OUTP":
            signal.output_on = value == "ON"
        answers = {
            "*IDN?": f"Invented Works,{name},0,1",
            "*OPC?": "1",
            "*ESE?": register,
            ":SYST:ERR?": '0,"No error"',
            ":FREQ?": f"{signal.frequency_hz:.3f}",
            ":POW?": f"{signal.power_dbm:.2f}",
            ":OUTP?": str(int(signal.output_on)),
            ":READ?": f"{signal.volts():+.9E}",
        }
        return answers.get(header)

    def message(text: str) -> str | None:
        return ";".join(part for one in text.split(";") if (part := unit(one)) is not None) or None

    return message


@dataclass
class Misfortune:
    """What becomes of answers. `strike` orders the kind that befalls the next one."""

    late_s: float
    due: str | None = None
    struck: int = 0
    _before: bytes = b""
    _joined: bytes = b""
    _after: bytes = b""

    def strike(self, kind: str) -> None:
        """Spoil the next answer."""
        self.due = kind

    def treat(self, data: bytes) -> list[tuple[float, bytes]]:
        """Give what comes instead of one answer, LF included: pieces, and how long to wait before each."""
        pieces = [(0.0, self._before)] if self._before else []
        pieces.append((0.0, self._joined + data))
        if self._after:
            pieces.append((0.0, self._after))
        self._before = self._joined = self._after = b""
        kind, self.due = self.due, None
        if kind is None:
            return pieces
        self.struck += 1
        return [*pieces[:-1], *self._spoil(kind, pieces[-1][1])]

    def _spoil(self, kind: str, data: bytes) -> list[tuple[float, bytes]]:
        if kind == "doubled":
            self._before = data
            return [(0.0, data)]
        if kind == "doubled late":
            return [(0.0, data), (A_MOMENT_S, data)]
        if kind == "late":
            return [(self.late_s, data)]
        if kind == "merged":
            self._joined = data.rstrip(b"\n")
        if kind == "reordered":
            self._after = data
        if kind == "cut short":
            return [(0.0, data[: len(data) // 2] + b"\n")]
        if kind == "headless":
            return [(0.0, data[len(data) // 3 :])]
        return []


class Wire(Protocol):
    """Where one instrument can be reached."""

    @property
    def address(self) -> str:
        """As VISA writes it."""

    def __enter__(self) -> Self:
        """Begin to serve."""

    def __exit__(self, *exception: object) -> None:
        """End."""


def _lines(answer: Callable[[str], str | None], misfortune: Misfortune) -> Callable[[Connection], None]:
    def behave(connection: Connection) -> None:
        while (message := connection.line()) is not None:
            if (reply := answer(message)) is not None:
                for wait_s, data in misfortune.treat(reply.encode() + b"\n"):
                    time.sleep(wait_s)
                    connection.say(data)

    return behave


def socket_wire(answer: Callable[[str], str | None], misfortune: Misfortune) -> Wire:
    """A plain socket."""
    return Peer(_lines(answer, misfortune))


class Vxi11Wire(Vxi11Peer):
    """An output queue that all links share and that a new question does not empty, as 488.2 section 6.3.2 forbids."""

    def __init__(self, answer: Callable[[str], str | None], misfortune: Misfortune) -> None:
        super().__init__(answer)
        self._misfortune = misfortune
        self._queue: deque[tuple[float, bytes]] = deque()
        self._turn = threading.Lock()

    def _result(self, procedure: int, arguments: bytes) -> bytes:
        with self._turn:
            return super()._result(procedure, arguments)

    def _take(self, message: str) -> None:
        reply = self._answer(message)
        if reply is not None:
            at_s = time.monotonic()
            for wait_s, data in self._misfortune.treat(reply.encode() + b"\n"):
                at_s += wait_s
                self._queue.append((at_s, data))

    def _give(self, wanted: int, timeout_s: float) -> tuple[bytes, bool] | None:
        if not self._queue or self._queue[0][0] > time.monotonic() + timeout_s:
            time.sleep(min(timeout_s, 0.05))
            return None
        at_s, data = self._queue.popleft()
        time.sleep(max(0.0, at_s - time.monotonic()))
        if data[wanted:]:
            self._queue.appendleft((0.0, data[wanted:]))
        return data[:wanted], not data[wanted:]

    def _clear(self) -> None:
        self._queue.clear()


class HislipWire(HislipPeer):
    """Answers that bear the number of the latest message, whichever they belong to."""

    def __init__(self, answer: Callable[[str], str | None], misfortune: Misfortune) -> None:
        super().__init__(answer)
        self._misfortune = misfortune

    def _reply(self, connection: Connection, parameter: int, message: str) -> None:
        if (reply := self._answer(message)) is not None:
            for wait_s, data in self._misfortune.treat(reply.encode() + b"\n"):
                time.sleep(wait_s)
                self._say_data(connection, parameter, data)


@dataclass
class SerialWire:
    """A pseudo-terminal: one line for whoever opens it, and whatever was on its way stays on it."""

    answer: Callable[[str], str | None]
    misfortune: Misfortune
    _ends: tuple[int, int] = (0, 0)
    _ended: threading.Event = field(default_factory=threading.Event)

    @property
    def address(self) -> str:
        """As VISA writes it."""
        return f"ASRL{os.ttyname(self._ends[1])}::INSTR"

    def __enter__(self) -> Self:
        self._ends = os.openpty()
        tty.setraw(self._ends[1], termios.TCSANOW)
        self._thread = threading.Thread(target=self._serve)
        self._thread.start()
        return self

    def __exit__(self, *exception: object) -> None:
        self._ended.set()
        self._thread.join()
        for end in self._ends:
            os.close(end)

    def _serve(self) -> None:
        kept = b""
        while not self._ended.is_set():
            if not select.select([self._ends[0]], (), (), 0.05)[0]:
                continue
            with suppress(OSError):
                *lines, kept = (kept + os.read(self._ends[0], 4096)).split(b"\n")
                for line in lines:
                    self._answer(line.decode())

    def _answer(self, message: str) -> None:
        if (reply := self.answer(message)) is not None:
            for wait_s, data in self.misfortune.treat(reply.encode() + b"\n"):
                time.sleep(wait_s)
                os.write(self._ends[0], data)


WIRES: dict[str, Callable[[Callable[[str], str | None], Misfortune], Wire]] = {
    "SOCKET": socket_wire,
    "VXI-11": Vxi11Wire,
    "HiSLIP": HislipWire,
    "serial": SerialWire,
}


def order_of_faults(seed: int, count: int, kinds: tuple[str, ...] = KINDS) -> list[tuple[str, str, int]]:
    """Draw kind, role and how many points pass before each fault; every kind comes equally often."""
    chance = random.Random(seed)  # noqa: S311 - no secret
    drawn = [kinds[n % len(kinds)] for n in range(count)]
    chance.shuffle(drawn)
    return [(kind, chance.choice(("source", "meter")), chance.randrange(3)) for kind in drawn]
