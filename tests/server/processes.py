"""A service in a process of its own, and streams read from it."""

import json
import re
import signal
import ssl
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any, Self

import httpx2

from server.api.seat import CLIENT_HEADER
from server.records.store import Store
from tests.server.benches import PATIENCE_S, eventually

TARGET = "skerry-7-third-passband-1-6khz"


class Stream:
    """A live stream: items with the number they came under, in order."""

    def __init__(self, response: httpx2.Response) -> None:
        """Read from an open response."""
        self._lines = response.iter_lines()
        self.last_id: str | None = None

    def messages(self) -> Iterator[list[dict[str, Any]]]:
        """Give the messages, by the rules of the HTML standard's section on server-sent events."""
        data: list[str] = []
        number = None
        for line in self._lines:
            name, _, value = line.partition(": ")
            if name == "data":
                data.append(value)
            elif name == "id":
                number = value
            elif not line and data:
                self.last_id = number
                yield json.loads("\n".join(data))
                data = []

    def items(self) -> Iterator[dict[str, Any]]:
        """Give the items one by one."""
        for message in self.messages():
            yield from message

    def events(self, kind: str | None = None) -> Iterator[dict[str, Any]]:
        """Give what runs emitted, or of that only one kind."""
        for item in self.items():
            if "event" in item and kind in {None, item["event"]["kind"]}:
                yield item


class ServiceProcess:
    """A running service and a client of it."""

    def __init__(
        self, module: str, *arguments: str, record: Path, errors: IO[str] | None = None, trust: Path | None = None
    ) -> None:
        """Start it and wait for the address of its page; what it says on standard error goes to `errors`.

        `trust` is the certificate it serves HTTPS with.
        """
        self._record = record
        command = [sys.executable, "-m", module, *arguments]
        # A session of its own, so that a signal can be sent to its whole group, as a terminal does.
        self.process = subprocess.Popen(
            command, stdout=subprocess.PIPE, stderr=errors, text=True, start_new_session=True
        )
        try:
            verify = True if trust is None else ssl.create_default_context(cafile=trust)
            self.http = httpx2.Client(base_url=self._address(), timeout=PATIENCE_S, verify=verify)
            eventually(lambda: self.bench()["instruments"])
        except BaseException:
            self._end()
            raise

    def _address(self) -> str:
        assert self.process.stdout is not None
        address = re.search(r"https?://\S+", self.process.stdout.readline())
        assert address is not None
        return address.group()

    def _end(self) -> None:
        self.process.kill()
        self.process.wait()
        assert self.process.stdout is not None
        self.process.stdout.close()

    def __enter__(self) -> Self:
        """Run."""
        return self

    def __exit__(self, *_: object) -> None:
        """End what still runs."""
        self._end()
        self.http.close()

    def bench(self) -> Any:  # noqa: ANN401 - JSON
        """Ask how the bench stands."""
        return self.http.get("/api/bench").json()

    def order(self, client: str = "one", **wishes: object) -> int:
        """Order an endless scan, or another."""
        body = {"target": TARGET, "detector": "linear", "settle_s": 0, "readings": 100_000, **wishes}
        answer = self.http.post("/api/scans", json=body, headers={CLIENT_HEADER: client})
        assert answer.status_code == 201, answer.text
        return int(answer.json()["id"])

    @contextmanager
    def stream(self, client: str = "one", last_event_id: str | None = None) -> Iterator[Stream]:
        """Open a live stream."""
        headers = {} if last_event_id is None else {"Last-Event-ID": last_event_id}
        with self.http.stream("GET", f"/api/live?client={client}", headers=headers) as response:
            assert response.headers["content-type"].startswith("text/event-stream")
            yield Stream(response)

    def end(self, number: signal.Signals) -> int:
        """Send a signal and wait for the end."""
        self.process.send_signal(number)
        return self.process.wait(PATIENCE_S)

    def read_record(self, run_id: int) -> dict[str, Any]:
        """Open the record after the service's end, as the next start does."""
        store = Store(self._record)
        try:
            return store.run(run_id)
        finally:
            store.close()


class FakeService(ServiceProcess):
    """A service over instruments without a wire, one of which keeps a log."""

    def __init__(
        self,
        folder: Path,
        reading_s: float = 0.0,
        patience_s: float = 60.0,
        *,
        gap_s: float = 60.0,
        confirms: bool = True,
        certificate: tuple[Path, Path] | None = None,
    ) -> None:
        """Start it over a meter that takes so long for a reading."""
        record, self._source_log = folder / "record.sqlite", folder / "source.log"
        self._errors = (folder / "errors").open("w+", encoding="utf-8")
        times = (reading_s, patience_s, gap_s)
        arguments = (str(record), str(self._source_log), *map(str, times), "yes" if confirms else "no")
        arguments += () if certificate is None else tuple(map(str, certificate))
        super().__init__(
            "tests.server.fake_service",
            *arguments,
            record=record,
            errors=self._errors,
            trust=certificate and certificate[0],
        )

    def __exit__(self, *raised: object) -> None:
        """End what still runs."""
        super().__exit__(*raised)
        self._errors.close()

    def said(self) -> str:
        """Give what it has said on standard error."""
        self._errors.seek(0)
        return self._errors.read()

    def source_output(self) -> str:
        """Give the source's last word, whether or not the service still lives."""
        return self._source_log.read_text(encoding="utf-8").splitlines()[-1]
