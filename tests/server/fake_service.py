"""A whole service in a process of its own, over instruments without a wire, for tests that kill it.

`python -m tests.server.fake_service RECORD SOURCE_LOG READING_S PATIENCE_S` prints the page's address when it is ready.
The source writes to SOURCE_LOG whenever its output is switched, so that its last word can be read after the process has
died.
"""

import sys
from dataclasses import dataclass
from pathlib import Path

from server.api.listen import listen, open_listener, page_address
from server.api.service import assemble
from server.bench.file import BenchFile, MeterEntry, SourceEntry
from server.settings import Settings
from tests.fakes import FakeSource
from tests.server.benches import FakeBench, PassbandMeter


@dataclass
class LoggedSource(FakeSource):
    """A source whose output can be followed from outside."""

    log: Path = Path()

    def set_output(self, on: bool) -> None:
        """Switch, and write it down."""
        super().set_output(on)
        self._note("on" if on else "off")

    def make_safe(self) -> bool:
        """Switch off, and write it down."""
        confirmed = super().make_safe()
        self._note("off")
        return confirmed

    def _note(self, word: str) -> None:
        with self.log.open("a", encoding="utf-8") as log:
            log.write(f"{word}\n")


def main(record: str, source_log: str, reading_s: str, patience_s: str) -> None:
    """Serve until a signal ends it."""
    source = LoggedSource(log=Path(source_log))
    bench = FakeBench(source, PassbandMeter(source, 60_050.0, 2000.0, float(reading_s)))
    bench_file = BenchFile(source=SourceEntry(address="source-address"), meter=MeterEntry(address="meter-address"))
    settings = Settings(
        mode="bench",
        bench_file=bench_file,
        store_path=Path(record),
        port=0,
        operator_patience_s=float(patience_s),
    )
    service = assemble(settings, open_bench=lambda _: bench)
    listener = open_listener(settings.host, settings.port)
    address = page_address(settings, listener)
    listen(service, listener, ready=lambda: print(address, flush=True))  # noqa: T201 - the test reads it


if __name__ == "__main__":
    main(*sys.argv[1:])
