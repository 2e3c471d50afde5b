"""A whole service in a process of its own, over instruments without a wire, for tests that kill it.

`python -m tests.server.fake_service RECORD SOURCE_LOG READING_S PATIENCE_S GAP_S CONFIRMS [CERTIFICATE KEY]` prints the
page's address when it is ready; with CONFIRMS "no" the source never says that its output is off.
The source writes to SOURCE_LOG whenever its output is switched, so that its last word can be read after the process has
died.
"""

import sys
from dataclasses import dataclass
from pathlib import Path

from server.api.listen import listen, open_listener, page_address
from server.api.service import assemble
from server.bench.file import BenchFile, MeterEntry, SourceEntry
from server.errors import ServerError
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


def main(record: str, source_log: str, *times_and_more: str) -> None:
    """Serve until a signal ends it."""
    reading_s, patience_s, gap_s, confirms, *https = times_and_more
    source = LoggedSource(log=Path(source_log), confirms=confirms == "yes")
    bench = FakeBench(source, PassbandMeter(source, 85_050.0, 2000.0, float(reading_s)))
    bench_file = BenchFile(source=SourceEntry(address="source-address"), meter=MeterEntry(address="meter-address"))
    settings = Settings(
        mode="bench",
        bench_file=bench_file,
        store_path=Path(record),
        port=0,
        operator_patience_s=float(patience_s),
        longest_gap_s=float(gap_s),
        certificate=Path(https[0]) if https else None,
        key=Path(https[1]) if https else None,
    )
    service = assemble(settings, open_bench=lambda _: bench)
    listener = open_listener(settings.host, settings.port)
    address = page_address(settings, listener)
    try:
        listen(service, listener, ready=lambda: print(address, flush=True))  # noqa: T201 - the test reads it
    except ServerError as error:
        sys.exit(str(error))


if __name__ == "__main__":
    main(*sys.argv[1:])
