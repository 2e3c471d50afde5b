"""Peers that dawdle, flood or lie: the bench and its Output off stay in reach, and the log stays short."""

import asyncio
import json
import socket
import subprocess
from collections.abc import Callable, Iterator
from contextlib import ExitStack
from pathlib import Path

import httpx2
import pytest
from starlette.exceptions import HTTPException

from server.api import bounded_body, connections
from server.api.bounded_body import LARGEST_BODY_BYTES
from server.api.connections import MOST_WAITING
from server.api.listen import check_certificate
from server.api.seat import CLIENT_HEADER
from server.errors import ListenError
from tests.server.benches import PATIENCE_S, eventually
from tests.server.processes import FakeService

ME = {CLIENT_HEADER: "one"}


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[FakeService]:
    """One service for all tests here."""
    with FakeService(tmp_path_factory.mktemp("peers")) as shared:
        yield shared


def port_of(service: FakeService) -> int:
    """Give the port it listens on."""
    port = service.http.base_url.port
    assert port is not None
    return port


def half_sent(port: int, count: int, open_until: ExitStack) -> list[socket.socket]:
    """Begin so many requests and end none."""
    peers = []
    for _ in range(count):
        peer = open_until.enter_context(socket.create_connection(("127.0.0.1", port), PATIENCE_S))
        peer.sendall(b"POST /api/stop HTTP/1.1\r\nHost: 127.0.0.1\r\n")
        peers.append(peer)
    return peers


def test_half_sent_requests_keep_nobody_from_the_output(service: FakeService) -> None:
    """Ten times as many as there is room for; what has waited longest makes room."""
    with ExitStack() as peers:
        first, *_ = half_sent(port_of(service), 10 * MOST_WAITING, peers)
        with httpx2.Client(base_url=service.http.base_url, timeout=PATIENCE_S) as newcomer:
            assert newcomer.post("/api/output-off", headers=ME).json()["output_on"] is False
        first.settimeout(PATIENCE_S)
        assert first.recv(1) == b""
    assert service.said() == ""


def test_a_head_that_never_ends_is_waited_for_no_longer_than_its_time() -> None:
    """As the loop's own clock has it."""
    due: list[float] = []

    class Loop:
        def time(self) -> float:
            return 7.0

        def call_later(self, delay_s: float, call: Callable[[], None]) -> object:
            due.append(delay_s)
            self.call = call
            return self

        def cancel(self) -> None:
            due.append(0.0)

    class Transport:
        aborted = False

        def abort(self) -> None:
            self.aborted = True

    made = connections.PatientProtocol.__new__(connections.PatientProtocol)
    loop, made.transport = Loop(), Transport()  # type: ignore[assignment]
    made.loop = loop  # type: ignore[assignment]
    made._expect_head()  # noqa: SLF001 - the clock is the test's
    made._expect_head()  # noqa: SLF001 - the same

    assert due == [connections.LONGEST_HEAD_S]
    loop.call()
    assert made.transport.aborted  # type: ignore[attr-defined]


def test_a_body_that_is_too_long_is_not_read(service: FakeService) -> None:
    """A scan order of megabytes."""
    body = b'{"target":"' + b"x" * LARGEST_BODY_BYTES + b'"}'
    answer = service.http.post("/api/scans", content=body, headers=ME)

    assert (answer.status_code, answer.json()) == (413, {"error": "The request body is too large."})


@pytest.mark.parametrize("body", [b"[" * 100_000, b'{"a":' * 50_000, b"\xff", b"{"])
def test_a_body_that_is_no_json_is_told_so(service: FakeService, body: bytes) -> None:
    """However deep it nests."""
    answer = service.http.post("/api/scans", content=body, headers={**ME, "Content-Type": "application/json"})

    assert answer.status_code in {400, 422}
    assert list(answer.json()) == ["error"]


def test_a_body_that_never_ends_is_waited_for_no_longer_than_its_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """Between two pieces; what comes after the whole body is waited for as long as it takes."""
    monkeypatch.setattr(bounded_body, "LONGEST_PAUSE_S", 0.01)
    pieces = [{"body": b"{", "more_body": True}]

    async def receive() -> dict[str, object]:
        if not pieces:
            await asyncio.sleep(PATIENCE_S)
        return pieces.pop()

    async def read() -> None:
        bounded = bounded_body.bounded({"path": "/api/scans"}, receive)
        await bounded()
        await bounded()

    with pytest.raises(HTTPException) as refused:
        asyncio.run(read())
    assert refused.value.status_code == 408


def test_a_number_of_thousands_of_digits_reads_again(service: FakeService) -> None:
    """Python refuses to make a number of it."""
    with service.http.stream("GET", f"/api/live?after={'9' * 5000}") as answer:
        assert answer.status_code == 200
        data = next(line for line in answer.iter_lines() if line.startswith("data"))
    assert json.loads(data.partition(": ")[2])[0] == {"missed": True}


def test_a_method_that_is_not_possible_is_told_those_that_are(service: FakeService) -> None:
    """RFC 9110, section 15.5.6: an Allow header must be there."""
    answer = service.http.delete("/api/jobs")
    assert (answer.status_code, answer.headers["allow"]) == (405, "GET, POST")
    assert service.http.post("/api/bench", headers=ME).headers["allow"] == "GET"


@pytest.mark.parametrize("origin", ["http://elsewhere.example", "null", "http://127.0.0.1:1", "file://"])
def test_a_page_of_another_site_is_refused_by_itself(service: FakeService, origin: str) -> None:
    """Whatever it asks, and though its browser would not let it read the answer."""
    for answer in (
        service.http.post("/api/output-off", headers={**ME, "Origin": origin}),
        service.http.get("/api/bench", headers={"Origin": origin}),
    ):
        assert answer.status_code == 403
        assert list(answer.json()) == ["error"]


def test_our_own_page_is_let_in(service: FakeService) -> None:
    """By the name it was opened under."""
    origin = f"http://127.0.0.1:{port_of(service)}"
    assert service.http.post("/api/output-off", headers={**ME, "Origin": origin}).status_code == 200


def test_health_tells_how_all_stands_and_no_secrets(service: FakeService) -> None:
    """Neither addresses nor the record's place."""
    answer = service.http.get("/health")

    health = answer.json()
    assert answer.status_code == 200
    assert health.pop("version")
    assert health == {
        "status": "ok",
        "bench": "ready",
        "output": "off",
        "output_alarm": False,
        "record": "ok",
    }


def test_every_status_an_error_may_have_is_described(service: FakeService) -> None:
    """Of each operation, in the one shape."""
    described = service.http.get("/api/openapi.json").json()
    shape = {"$ref": "#/components/schemas/ErrorBody"}
    for path, operations in described["paths"].items():
        for operation in operations.values():
            for status in ("400", "401", "403", "404", "405", "409", "413", "421", "422", "500", "502"):
                content = operation["responses"][status]["content"]
                assert content["application/json"]["schema"] == shape, (path, status)


@pytest.fixture(scope="module")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A certificate for this machine, and its key."""
    folder = tmp_path_factory.mktemp("certificate")
    certificate, key = folder / "certificate.pem", folder / "key.pem"
    command = ["openssl", "req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", "2", "-subj", "/CN=localhost"]
    command += ["-addext", "subjectAltName=IP:127.0.0.1", "-keyout", str(key), "-out", str(certificate)]
    subprocess.run(command, check=True, capture_output=True)
    return certificate, key


def test_https_is_served_with_a_given_certificate(tmp_path: Path, certificate: tuple[Path, Path]) -> None:
    """And the address that is printed says so."""
    with FakeService(tmp_path, certificate=certificate) as encrypted:
        assert str(encrypted.http.base_url).startswith("https://")
        eventually(lambda: encrypted.bench()["instruments"])


@pytest.mark.parametrize("which", ["half", "mixed up", "missing"])
def test_a_certificate_that_cannot_serve_is_told_before_anything_begins(
    certificate: tuple[Path, Path], which: str
) -> None:
    """In one sentence."""
    given = {
        "half": (certificate[0], None),
        "mixed up": (certificate[1], certificate[0]),
        "missing": (certificate[0], Path("nowhere.pem")),
    }[which]
    with pytest.raises(ListenError, match="HTTPS"):
        check_certificate(*given)
