"""A service over a bench without a wire, whose oscillator a test turns, with a technician at its page."""

from pathlib import Path

from fastapi.testclient import TestClient

from server.api.app import create_app
from server.api.service import Service, assemble
from server.bench.file import BenchFile, CounterEntry, MeterEntry, SourceEntry
from server.settings import Settings
from tests.fakes import FakeClock
from tests.server.benches import FakeBench, OscillatorCounter
from tests.server.technician import Asked, Technician

STEP = "beat-oscillator"
PICK_UP_MOVED = "Move the counter's pick-up"
SLUG = "beat oscillator slug"
NOMINAL_HZ = 85_000.0
HZ_PER_TURN = 150.0


class Place:
    """A service, its bench, and a technician at its page."""

    def __init__(self, folder: Path, bench: FakeBench | None = None) -> None:
        """Put it together."""
        self.bench = bench or FakeBench(counter=OscillatorCounter())
        self.clock = FakeClock()
        bench_file = BenchFile(
            source=SourceEntry(address="source-address"),
            meter=MeterEntry(address="meter-address"),
            counter=CounterEntry(address="counter-address"),
        )
        settings = Settings(mode="bench", bench_file=bench_file, store_path=folder / "record.sqlite")
        self.service: Service = assemble(settings, open_bench=lambda _: self.bench, clock=self.clock.now)
        self.client = TestClient(create_app(self.service), base_url="http://127.0.0.1:8470")
        self.me = Technician(self.client)

    @property
    def counter(self) -> OscillatorCounter:
        """What counts the oscillator."""
        assert self.bench.counter is not None
        return self.bench.counter

    def hand(self, asked: Asked) -> str:
        """Turn the oscillator as asked: clockwise lowers it, as the receiver file says. Else take what is proposed."""
        if asked["action"] == "turn":
            self.counter.frequency_hz -= HZ_PER_TURN * asked["detail"]["turns"]
        return str(asked["answers"][0])

    def job(self) -> int:
        """Begin a job whose next step is the oscillator's."""
        job = self.me.new_job()
        self.me.leave_before(job, STEP)
        return job
