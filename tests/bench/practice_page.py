"""The service around a practice bench without delays, in this process, with a technician at its page."""

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from fastapi.testclient import TestClient

from server.api.app import create_app
from server.api.service import Service, assemble
from server.practice.process import practice_bench
from server.settings import Settings
from server.wiring import open_bench
from tests.fakes import FakeClock
from tests.server.benches import eventually
from tests.server.technician import PracticeHands, Technician

SPEED = 200.0
"""A receiver that settles at once need not be waited for."""


class PracticePage:
    """A service, its practice bench and whoever works there."""

    def __init__(self, service: Service, http: TestClient, source_address: str) -> None:
        """Sit down."""
        self.service = service
        self.me = Technician(http)
        self.hands = PracticeHands(self.me)
        self.source_address = source_address

    def truth(self) -> Any:  # noqa: ANN401 - JSON
        """Give the simulator's own truth."""
        return self.me.get("/api/practice/truth")

    def position(self, adjuster: str) -> float:
        """Give where an adjuster stands, in turns from the middle of its travel."""
        adjusters = {one["name"]: one for one in self.me.get("/api/practice")["receiver"]["adjusters"]}
        return float(adjusters[adjuster]["position_turns"])


@contextmanager
def practice_page(store: Path, *, seed: int) -> Iterator[PracticePage]:
    """Serve for as long as the block lasts. The operator's clock stands still: a busy machine cuts no test short."""
    with practice_bench(["--seed", str(seed), "--instant"]) as practice:
        settings = Settings(mode="practice", bench_file=practice.bench_file, store_path=store, speed=SPEED)
        service = assemble(settings, open_bench=open_bench, hands=practice.hands, clock=FakeClock().now)
        source = practice.bench_file.source
        assert source is not None
        with TestClient(create_app(service), base_url="http://127.0.0.1:8470") as http:
            page = PracticePage(service, http, source.address)
            eventually(lambda: page.me.bench()["instruments"])
            yield page
