"""A person at a pipe: does what each line asks, on a single-tuned circuit of the test's own.

The circuit's response is that of the handbooks: 1 / (1 + x^2), x = Q (f/f0 - f0/f) (Terman, Radio Engineers' Handbook,
1943, section 3).
"""

import math
import re
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass, field

SET = re.compile(r"SET ([0-9.]+) kHz (-?[0-9.]+) dBm")
Reply = Callable[[str, str], str | None]


@dataclass
class Circuit:
    """What the person reads: a circuit's output, rounded to half a decibel."""

    centre_hz: float
    width_hz: float
    frequency_hz: float = 0.0

    def read(self) -> float:
        """Give the voltage at the frequency that is set, as well as it can be read."""
        x = self.centre_hz / self.width_hz * (self.frequency_hz / self.centre_hz - self.centre_hz / self.frequency_hz)
        level_db = -10 * math.log10(1 + x * x)
        return float(10 ** (round(2 * level_db) / 2 / 20))


@dataclass
class Conversation:
    """What was asked, line by line, and how the command ended."""

    asked: list[str] = field(default_factory=list)
    said: list[str] = field(default_factory=list)
    output: str = ""
    status: int = 0

    @property
    def readings(self) -> int:
        """How often a reading was asked for."""
        return sum(line.startswith("READ ") for line in self.asked)


def scan_by_hand(circuit: Circuit, *words: str, reply: Reply = lambda _line, usual: usual) -> Conversation:
    """Run a scan with a person for source and meter; `reply` may answer otherwise than usual, None ends the input."""
    command = [sys.executable, "-m", "server", "scan", "--source", "person", "--meter", "person", *words]
    talk = Conversation()
    with subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    ) as process:
        assert process.stdin is not None
        assert process.stderr is not None
        assert process.stdout is not None
        for line in process.stderr:
            answer = _answer(circuit, line.rstrip("\n"), talk, reply)
            if answer is None and talk.asked and talk.asked[-1] == line.rstrip("\n"):
                process.stdin.close()
            elif answer is not None:
                process.stdin.write(f"{answer}\n")
                process.stdin.flush()
        talk.output = process.stdout.read()
        talk.status = process.wait(60)
    return talk


def _answer(circuit: Circuit, line: str, talk: Conversation, reply: Reply) -> str | None:
    setting = SET.fullmatch(line)
    if setting is not None:
        circuit.frequency_hz = 1000 * float(setting[1])
        usual = ""
    elif line.startswith("READ "):
        usual = f"{circuit.read():.4g}"
    else:
        talk.said.append(line)
        return None
    talk.asked.append(line)
    return reply(line, usual)
