"""`python -m tests.benchmarks.wire_faults [FAULTS]`: seeded faults on every wire, and what became of them.

A line for each kind and wire: how often it struck, how often the run was told that a reply was lost, how many readings
or settings belonged to another question, and whether the output was off at the end as far as the source could be told.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TypeVar

from drivers.errors import DriverError, NotConnectedError
from drivers.meters import open_meter
from drivers.sources import open_source
from tests.drivers.faulty import KINDS, WIRES, Misfortune, Signal, order_of_faults, speaks

if TYPE_CHECKING:
    from collections.abc import Callable

    from drivers.meters import Meter
    from drivers.sources import Source

# Far beyond what a busy machine keeps a reply back; an answer that is late on purpose is later still.
TIMEOUT_S = 0.3
LATE_S = 0.4
ATTEMPTS = 3
PATIENCE_S = 15.0
FAULTS_IN_A_RUN = 25
Opened = TypeVar("Opened")
COLUMNS = ("struck", "told", "gave up", "wrong", "left on")


@dataclass
class Tally:
    """What became of the faults of one wire, by kind."""

    struck: Counter[str] = field(default_factory=Counter)
    told: Counter[str] = field(default_factory=Counter)
    gave_up: Counter[str] = field(default_factory=Counter)
    wrong: Counter[str] = field(default_factory=Counter)
    left_on: Counter[str] = field(default_factory=Counter)

    reasons: Counter[str] = field(default_factory=Counter)
    last_word: str = ""

    def row(self, kind: str) -> tuple[int, ...]:
        """The figures of one kind, in the order of the columns."""
        return tuple(counts[kind] for counts in (self.struck, self.told, self.gave_up, self.wrong, self.left_on))

    def persist(self, kind: str, action: Callable[[], float | None]) -> float | None:
        """Put one request again where its reply was lost, as a run does."""
        attempts, until_s = 0, time.monotonic() + PATIENCE_S
        while attempts < ATTEMPTS and time.monotonic() < until_s:
            try:
                return action()
            except NotConnectedError as away:
                time.sleep(away.retry_s)
            except DriverError as error:
                attempts += 1
                self.last_word = str(error)
            self.told[kind] += 1
        self.gave_up[kind] += 1
        self.reasons[self.last_word.partition(": ")[2]] += 1
        return None


def play(wire: str, count: int, seed: int, kinds: tuple[str, ...] = KINDS) -> Tally:
    """Let so many faults strike a source and a meter on one kind of wire."""
    tally = Tally()
    faults = order_of_faults(seed, count, kinds)
    for first in range(0, count, FAULTS_IN_A_RUN):
        _play_run(wire, faults[first : first + FAULTS_IN_A_RUN], tally)
    return tally


def _play_run(wire: str, faults: list[tuple[str, str, int]], tally: Tally) -> None:
    signal = Signal()
    misfortunes = {"source": Misfortune(LATE_S), "meter": Misfortune(LATE_S)}
    at_source = WIRES[wire](speaks(signal, "Source"), misfortunes["source"])
    at_meter = WIRES[wire](speaks(signal, "Meter"), misfortunes["meter"])
    with at_source, at_meter:
        source = _opened(lambda: open_source(at_source.address, ceiling_dbm=0.0, timeout_s=TIMEOUT_S))
        meter = _opened(lambda: open_meter(at_meter.address, timeout_s=TIMEOUT_S))
        point = 0
        for kind, role, pause in faults:
            _switch_on(source, tally, kind)
            misfortunes[role].strike(kind)
            for _ in range(2 + pause):
                point += 1
                _take_point(source, meter, 455e3 + point, tally, kind)
            tally.struck[kind] += misfortunes[role].struck
            misfortunes[role].struck = 0
        misfortunes["source"].strike(kind)
        confirmed = source.make_safe().confirmed
        tally.struck[kind] += misfortunes["source"].struck
        tally.left_on[kind] += signal.output_on and confirmed
        tally.gave_up[kind] += not confirmed
        source.close()
        meter.close()


def _opened(opening: Callable[[], Opened]) -> Opened:
    """Nothing strikes at the opening: on a busy machine the peer may only be slow to begin, and is waited for."""
    until_s = time.monotonic() + PATIENCE_S
    while True:
        try:
            return opening()
        except NotConnectedError:
            if time.monotonic() > until_s:
                raise


def _switch_on(source: Source, tally: Tally, kind: str) -> None:
    tally.persist(kind, lambda: source.set_power(-60.0))
    tally.persist(kind, lambda: source.set_output(True))


def _take_point(source: Source, meter: Meter, frequency_hz: float, tally: Tally, kind: str) -> None:
    def setting() -> float:
        source.set_frequency(frequency_hz)
        return frequency_hz

    if tally.persist(kind, setting) is None:
        return
    volts = tally.persist(kind, meter.read_voltage)
    if volts is not None and abs(volts - frequency_hz * 1e-6) > 1e-9:
        tally.wrong[kind] += 1


def main() -> None:
    """Print the table, and fail where anything was wrong."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 400
    print(f"{'wire':8}{'kind':14}" + "".join(f"{name:>9}" for name in COLUMNS))  # noqa: T201 - it prints a table
    wrong = 0
    for seed, wire in enumerate(WIRES):
        tally = play(wire, count // len(WIRES), seed)
        for kind in KINDS:
            row = tally.row(kind)
            wrong += row[3] + row[4]
            print(f"{wire:8}{kind:14}" + "".join(f"{figure:>9}" for figure in row), flush=True)  # noqa: T201 - the same
        for reason, times in tally.reasons.most_common(5):
            print(f"{'':8}gave up {times} times: {reason}")  # noqa: T201 - the same
    raise SystemExit(1 if wrong else 0)


if __name__ == "__main__":
    main()
