"""A job on the real service and the practice bench, by the page alone: begun, one step left, one measured, reported."""

import re
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.page.conftest import OpenContext
from tests.page.live_hands import READ_FIRST_MS
from tests.page.practice import practice_service
from tests.sequences.receiver_files import step_count

SPEED = 20.0
"""How much faster than a real bench the practice bench goes."""

LONGEST_MS = 90_000
"""How long a step at the practice instruments' own pace may take on a busy machine."""

THIN, MINUS = "\N{NARROW NO-BREAK SPACE}", "\N{MINUS SIGN}"


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """One practice bench for these tests."""
    with practice_service(tmp_path_factory.mktemp("practice") / "record.sqlite", seed=3, speed=SPEED) as started:
        yield started


@pytest.fixture
def page(new_context: OpenContext, address: str) -> Page:
    """The page on it."""
    opened = new_context().new_page()
    opened.goto(address)
    return opened


def ask(page: Page, path: str) -> Any:  # noqa: ANN401 - JSON
    """Ask the service what the page would ask."""
    return page.request.get(f"{page.url.split('#', maxsplit=1)[0]}{path}").json()


def new_job(page: Page) -> None:
    """Start a job on a Skerry 7 by its form."""
    page.get_by_role("link", name="Start a job on a Skerry 7").click()
    form = page.locator("#jobs-page form")
    expect(form.get_by_label("Receiver")).to_have_value("skerry-7")
    form.get_by_label("Serial number").fill("0412")
    form.get_by_role("button", name="Start the job").click()
    expect(page.get_by_role("heading", name="Skerry 7", level=1)).to_be_visible()


def leave_step(page: Page, title: str, reason: str) -> None:
    """Leave a step of the plan, and go back to it."""
    page.get_by_role("link", name=title, exact=True).click()
    page.get_by_text("Leave this step as it is").click()
    page.get_by_label("Why it is left as it is").fill(reason)
    page.get_by_role("button", name="Leave the step").click()
    expect(page.locator(".step-head .stand")).to_have_text("left unmeasured")
    page.get_by_role("navigation", name="Where this is").get_by_role("link", name=re.compile("job")).click()


def do_all_that_is_asked(page: Page) -> None:
    """Have the practice bench do what the step asks, until the step is off the bench."""
    do_it, off_bench = (
        page.get_by_role("button", name="Do it for me"),
        page.locator(".step-columns[data-running=false]"),
    )
    while True:
        expect(do_it.or_(off_bench).first).to_be_visible(timeout=LONGEST_MS)
        if off_bench.is_visible():
            return
        asked = page.locator(".question__text").inner_text()
        page.wait_for_timeout(READ_FIRST_MS)
        do_it.click()
        expect(page.locator(".question__text").filter(has_text=asked)).to_be_hidden()


def test_a_passband_is_measured_judged_drawn_and_reported_by_the_page_alone(page: Page) -> None:
    """What the page shows is what the record holds."""
    new_job(page)
    leave_step(page, "Warm-up", "It has been on since the morning.")
    page.get_by_role("link", name="Passband of the third IF", exact=True).click()
    page.get_by_role("button", name="Start", exact=True).click()
    expect(page.locator(".step-columns[data-running=true]")).to_be_visible()

    do_all_that_is_asked(page)

    expect(page.locator(".step-head .stand")).to_have_text("good")
    step = next(each for each in ask(page, "api/jobs/1")["steps"] if each["id"] == "passband-third")
    errors = [each for each in step["state"]["as_found"] if each["name"] == "centre error"]
    assert len(errors) == 3
    shown = page.get_by_role("table", name="Figures of this step").get_by_role("row", name="centre error")
    expect(shown).to_have_count(3)
    for row, finding in zip(shown.all(), errors, strict=True):
        told = row.get_by_role("cell").first.inner_text().replace(MINUS, "-").replace(THIN, "")
        assert float(told.split(" ± ")[0]) == pytest.approx(finding["value"], abs=finding["sigma"] / 10)
    for place in ("0.8 kHz", "1.6 kHz", "3.2 kHz"):
        page.get_by_label(place, exact=True).check()
        expect(page.locator("#step-chart-caption")).to_contain_text("as found, run 1")
        expect(page.locator("#step-chart-plot")).to_have_attribute("aria-label", re.compile("Centre 84.99|Centre 85.0"))
    expect(page.get_by_role("banner").get_by_text("Output is off")).to_be_visible()

    page.get_by_role("navigation", name="Where this is").get_by_role("link", name=re.compile("job")).click()
    expect(page.get_by_text(f"2 of {step_count('skerry-7')} steps done")).to_be_visible()
    report = page.get_by_role("link", name="Report").get_attribute("href")
    assert "Skerry 7" in page.request.get(f"{page.url.split('#', maxsplit=1)[0]}{(report or '')[1:]}").text()
    page.get_by_role("link", name="History of this receiver").click()
    expect(page.get_by_role("region", name="Passband of the third IF")).to_contain_text("Centre error, 1.6 kHz")


def test_the_first_paint_waits_for_no_chart(page: Page) -> None:
    """The jobs can be read before the charting library is even asked for: no sweep is in view."""
    expect(page.get_by_role("heading", name="Jobs", level=1)).to_be_visible()

    fetched = page.evaluate('performance.getEntriesByType("resource").map(each => each.name)')

    assert not [name for name in fetched if "bokeh" in name]
