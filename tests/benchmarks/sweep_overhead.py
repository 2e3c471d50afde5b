"""What a sweep costs beside the instruments: points a second against a bare loop, and time over the sum of delays."""

import time
from collections.abc import Callable
from dataclasses import dataclass
from statistics import median

import pyvisa

from sequences.engine.events import Event, ReadingTaken, SourceChanged
from sequences.engine.run import Limits, run
from sequences.procedures.sweeps.scan import ScanSettings, scan
from server.bench.file import BenchFile, MeterEntry, SourceEntry
from server.wiring import open_bench
from tests.bench.practice import Practice, practice
from tests.fakes import StopAfter

POINTS = 1000
ROUNDS = 7
SLOW_POINTS = 25
METER_S = 0.1
START_HZ, STOP_HZ = 81e3, 89e3
"""Around the last IF of the practice receiver: its progress is shown and fitted as in any sweep."""


class _WallClock:
    def now(self) -> float:
        return time.perf_counter()

    def sleep(self, duration_s: float) -> None:
        time.sleep(duration_s)


@dataclass
class _Timing:
    """When a sweep's readings were taken; those of the checks after it are none of the sweep's."""

    points: int
    first_s: float = 0.0
    last_s: float = 0.0

    def __call__(self, event: Event) -> None:
        """Note the time of each reading, and that of switching on."""
        if isinstance(event, ReadingTaken) and event.index < self.points:
            self.last_s = time.perf_counter()
        elif isinstance(event, SourceChanged) and event.output_on:
            self.first_s = time.perf_counter()


def _sweep_s(bench: Practice, points: int) -> float:
    """Time an even sweep from output on to the last reading: engine, drivers, levels, progress, the fits so far."""
    opened = open_bench(BenchFile(source=SourceEntry(address=bench.source), meter=MeterEntry(address=bench.meter)))
    timing = _Timing(points)
    run(
        scan(ScanSettings(START_HZ, STOP_HZ, -50.0, 0.0, readings=points)),
        opened.bench,
        emit=timing,
        stop=StopAfter(),
        clock=_WallClock(),
        limits=Limits(highest_power_dbm=-50.0),
        name="overhead",
    )
    opened.close()
    return timing.last_s - timing.first_s


def _bare_s(bench: Practice, points: int) -> float:
    """Time the same exchange in a plain loop on pyvisa-py, with its sockets told not to wait (else 44 ms a point)."""
    manager = pyvisa.ResourceManager("@py")
    source, meter = (_plain(manager, address) for address in (bench.source, bench.meter))
    meter.query(":CONF:VOLT:DC;*OPC?")
    source.query(":POW -50;:OUTP ON;*OPC?")
    began_s = time.perf_counter()
    for point in range(points):
        frequency_hz = START_HZ + (STOP_HZ - START_HZ) * point / (points - 1)
        source.query(f":FREQ {frequency_hz:.3f};*OPC?;:SYST:ERR?")
        float(meter.query(":READ?"))
    taken_s = time.perf_counter() - began_s
    source.query(":OUTP OFF;*OPC?")
    source.close()
    meter.close()
    return taken_s


def _plain(manager: pyvisa.ResourceManager, address: str) -> pyvisa.resources.MessageBasedResource:
    resource = manager.open_resource(address, read_termination="\n", write_termination="\n", open_timeout=2000)
    assert isinstance(resource, pyvisa.resources.MessageBasedResource)
    return resource


def _in_turn(*timed: Callable[[], float]) -> list[float]:
    """Give the median of each of several timings taken turn by turn, so that the machine's mood cancels."""
    rounds = [[one() for one in timed] for _ in range(ROUNDS)]
    return [median(column) for column in zip(*rounds, strict=True)]


def main() -> None:
    """Print both ratios."""
    with practice("--seed", "1", "--instant") as bench:
        bench.do(do="connect", role="source", to="third mixer")
        bench.do(do="connect", role="meter", to="detector")
        ours_s, bare_s = _in_turn(lambda: _sweep_s(bench, POINTS), lambda: _bare_s(bench, POINTS))
    print(  # noqa: T201 - a benchmark prints
        f"instant instruments: {POINTS / ours_s:.0f} points/s, a bare loop {POINTS / bare_s:.0f} points/s, "
        f"share {bare_s / ours_s:.2f} (aim 0.8 or more)"
    )
    with practice("--seed", "1", "--delays", f"source=0,exchange=0,meter={METER_S}") as bench:
        bench.do(do="connect", role="source", to="third mixer")
        bench.do(do="connect", role="meter", to="detector")
        slow_s = _sweep_s(bench, SLOW_POINTS)
    print(  # noqa: T201 - the same
        f"instruments that take {METER_S:g} s: {slow_s:.2f} s for {SLOW_POINTS} points, over the sum of the delays "
        f"{slow_s / (SLOW_POINTS * METER_S):.3f} (aim 1.03 or less)"
    )


if __name__ == "__main__":
    main()
