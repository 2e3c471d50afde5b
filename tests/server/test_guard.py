"""Who is let in, by which name, and what a browser is told it may do."""

from pathlib import Path

import pytest
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.routing import Route
from starlette.testclient import TestClient

from server.api.guard import COOKIE, Guard
from server.bench.file import BenchFile
from server.settings import Settings, is_loopback

TOKEN = "a-token-of-this-test"  # noqa: S105 - invented here


async def _answer(request: Request) -> PlainTextResponse:
    return PlainTextResponse(f"{request.url.path}?{request.url.query}")


def client(base_url: str, host: str = "127.0.0.1", token: str | None = None) -> TestClient:
    """Give a client of a guarded service that listens on `host`."""
    settings = Settings(mode="bench", bench_file=BenchFile(), store_path=Path("unused"), host=host, token=token)
    app = Starlette(routes=[Route("/{rest:path}", _answer, methods=["GET", "POST"])])
    return TestClient(Guard(app, settings), base_url=base_url, follow_redirects=False)


@pytest.mark.parametrize("host", ["127.0.0.1", "127.0.0.1:8470", "localhost:9000", "[::1]:8470", "127.9.9.9"])
def test_this_machine_is_let_in_by_each_of_its_names(host: str) -> None:
    """With any port, since a port may be forwarded."""
    assert client(f"http://{host}").get("/api/bench").status_code == 200


@pytest.mark.parametrize("host", ["attacker.example", "localhost.attacker.example", "192.0.2.7", "testserver", ""])
def test_a_name_that_only_resolves_to_this_machine_is_refused(host: str) -> None:
    """DNS rebinding: a page of another site points its own name at us to read what we say."""
    answer = client("http://127.0.0.1").get("/api/bench", headers={"Host": host})

    assert answer.status_code == 421
    assert answer.json() == {
        "error": "This service answers only to localhost and 127.0.0.1; use one of them in the address."
    }


@pytest.mark.parametrize(
    ("host", "ours"),
    [("127.0.0.1", True), ("::1", True), ("localhost", True), ("0.0.0.0", False), ("192.0.2.1", False), ("box", False)],  # noqa: S104 - told apart, not listened on
)
def test_loopback_is_told_from_the_network(host: str, ours: bool) -> None:
    """RFC 1122 section 3.2.1.3 (g) and RFC 4291 section 2.5.3; 192.0.2.0/24 is for documentation (RFC 5737)."""
    assert is_loopback(host) is ours


@pytest.fixture
def network() -> TestClient:
    """A client of a service that others can reach."""
    return client("http://bench.example:8470", host="0.0.0.0", token=TOKEN)  # noqa: S104 - a setting of this test


def test_without_the_token_nothing_is_told(network: TestClient) -> None:
    """Not even which paths there are."""
    for path in ("/", "/api/bench", "/nothing"):
        answer = network.get(path)
        assert answer.status_code == 401
        assert list(answer.json()) == ["error"]


@pytest.mark.parametrize(
    "header", ["Bearer wrong", f"Basic {TOKEN}", "Bearer ", "Bearer \N{LATIN SMALL LETTER E WITH ACUTE}"]
)
def test_a_wrong_token_is_none(network: TestClient, header: str) -> None:
    """Nor is the right one under another scheme."""
    assert network.get("/api/bench", headers={b"Authorization": header.encode("latin-1")}).status_code == 401


def test_a_program_shows_the_token_as_a_bearer(network: TestClient) -> None:
    """RFC 6750 section 2.1."""
    assert network.post("/api/stop", headers={"Authorization": f"Bearer {TOKEN}"}).status_code == 200


def test_the_printed_address_leaves_a_cookie_and_hides_the_token(network: TestClient) -> None:
    """The cookie is out of reach of scripts and of what other sites embed; the rest of the address stays."""
    answer = network.get(f"/page?token={TOKEN}&scan=7")

    assert (answer.status_code, answer.headers["location"]) == (303, "/page?scan=7")
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=lax" in cookie
    assert network.cookies[COOKIE] == TOKEN
    assert network.get("/api/bench").status_code == 200


def test_a_wrong_token_in_the_address_leaves_nothing(network: TestClient) -> None:
    """It is answered as if there were none."""
    answer = network.get("/?token=wrong")

    assert answer.status_code == 401
    assert "set-cookie" not in answer.headers


def test_an_address_that_begins_with_two_slashes_is_not_followed_elsewhere(network: TestClient) -> None:
    """A path `//elsewhere` would be another host to the browser that is redirected there."""
    answer = network.get(f"http://bench.example:8470//elsewhere.example/?token={TOKEN}")

    assert answer.headers["location"] == "/elsewhere.example/"


@pytest.mark.parametrize("path", ["/", "/api/bench"])
def test_every_answer_says_what_a_browser_may_do(path: str) -> None:
    """Scripts of ours alone, no frame around the page, no guessing of types; refusals included."""
    for answer in (client("http://127.0.0.1").get(path), client("http://other.example").get(path)):
        policy = answer.headers["content-security-policy"]
        assert "script-src 'self'" in policy
        assert "frame-ancestors 'none'" in policy
        assert "http" not in policy
        assert answer.headers["x-content-type-options"] == "nosniff"
        assert answer.headers["referrer-policy"] == "no-referrer"


def test_the_api_is_never_cached_and_the_page_is_asked_for_again() -> None:
    """An old page over a new API would mislead."""
    ours = client("http://127.0.0.1")

    assert ours.get("/api/bench").headers["cache-control"] == "no-store"
    assert ours.get("/page.js").headers["cache-control"] == "no-cache"
