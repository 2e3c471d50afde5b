"""A browser, and a service for it to show."""

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

import pytest
import uvicorn
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from tests.page.fake_jobs import FakeJobs, add_jobs
from tests.page.fake_service import FakeBench, create_fake
from tests.page.fake_sources import add_fragments

PATIENCE_S = 30.0
"""How long a test waits for what must come before it fails: long enough for a busy machine."""

CHROMIUM_SWITCHES = (
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)


@dataclass(frozen=True)
class Fake:
    """A running fake: its strings, and where it answers."""

    bench: FakeBench
    jobs: FakeJobs
    address: str


@contextmanager
def serving(bench: FakeBench, port: int = 0) -> Iterator[Fake]:
    """Serve a fake on loopback for as long as the block lasts."""
    app = create_fake(bench)
    jobs = FakeJobs(bench)
    add_jobs(app, jobs)
    add_fragments(app, jobs)
    config = uvicorn.Config(app, host="127.0.0.1", port=port, log_level="error", timeout_graceful_shutdown=1)
    server = uvicorn.Server(config)
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    port = server.servers[0].sockets[0].getsockname()[1]
    try:
        yield Fake(bench, jobs, f"http://127.0.0.1:{port}/")
    finally:
        bench.closing.set()
        server.should_exit = True
        thread.join(PATIENCE_S)


@pytest.fixture
def fake() -> Iterator[Fake]:
    """A fake service of the test's own."""
    with serving(FakeBench()) as running:
        yield running


# Not for the whole session: while the browser's driver lives, its event loop counts as running in this thread, and
# the tests of other folders could not run one of their own.
@pytest.fixture(scope="module")
def browser(chromium: str) -> Iterator[Browser]:
    """One browser for the tests of a module."""
    expect.set_options(timeout=1000 * PATIENCE_S)
    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(executable_path=chromium, args=list(CHROMIUM_SWITCHES))
        yield launched
        launched.close()


OpenContext = Callable[..., BrowserContext]
OpenAt = Callable[..., Page]


@pytest.fixture
def new_context(browser: Browser) -> Iterator[OpenContext]:
    """Make browser contexts, each with its own storage, close them after the test, and fail it on a page's fault."""
    opened: list[BrowserContext] = []
    faults: list[str] = []

    def make(**options: Any) -> BrowserContext:  # noqa: ANN401 - the browser's own options
        context = browser.new_context(**{"viewport": {"width": 1280, "height": 900}, **options})
        context.set_default_timeout(1000 * PATIENCE_S)
        context.on("weberror", lambda error: faults.append(str(error.error)))
        opened.append(context)
        return context

    yield make
    for context in opened:
        context.close()
    assert not faults


@pytest.fixture
def open_at(new_context: OpenContext, fake: Fake) -> OpenAt:
    """Open the page at a place, in a context of its own."""

    def open_page(place: str, **options: Any) -> Page:  # noqa: ANN401 - the browser's own options
        opened = new_context(**options).new_page()
        opened.goto(f"{fake.address}#/{place}")
        expect(opened.get_by_role("banner").get_by_text("Practice bench")).to_be_visible()
        return opened

    return open_page


@pytest.fixture
def page(new_context: OpenContext, fake: Fake) -> Page:
    """The page as a technician on a laptop opens it, on the fake."""
    opened = new_context().new_page()
    opened.goto(f"{fake.address}#/scan")
    expect(opened.get_by_label("What to scan")).to_be_enabled()
    return opened
