"""A report in a browser: on a phone, and on paper."""

from pathlib import Path

import pypdfium2
import pytest
from playwright.sync_api import Browser

from server.report.content import Report
from server.report.html import html_report
from tests.page.reach import serious_findings
from tests.server.report.jobs import customer_store, report_of
from tests.server.report.reading import with_long_words

SHEETS = {"A4": (595.28, 841.89), "Letter": (612.0, 792.0)}
"""ISO 216 and ANSI Y14.1, in points of 1/72 inch."""


@pytest.fixture
def report(tmp_path: Path) -> Report:
    """A practice job's report."""
    store = customer_store(tmp_path, mode="practice")
    try:
        return report_of(store)
    finally:
        store.close()


@pytest.fixture
def text(report: Report) -> str:
    """The same as HTML."""
    return html_report(report)


@pytest.mark.parametrize("sheet", SHEETS)
def test_it_prints_with_page_numbers_and_the_mark_of_practice_on_every_page(
    browser: Browser, text: str, sheet: str
) -> None:
    page = browser.new_page()
    page.set_content(text)
    printed = pypdfium2.PdfDocument(page.pdf(format=sheet))
    pages = [each.get_textpage().get_text_range() for each in printed]
    page.close()

    assert printed[0].get_size() == pytest.approx(SHEETS[sheet], abs=1.0)
    assert len(pages) > 3
    for number, said in enumerate(pages, 1):
        assert f"page {number} of {len(pages)}" in said
        assert "Practice: a simulated receiver" in said


@pytest.mark.parametrize("long", [False, True])
def test_a_phone_shows_it_without_scrolling_sideways(browser: Browser, report: Report, *, long: bool) -> None:
    page = browser.new_page(viewport={"width": 360, "height": 740})
    page.set_content(html_report(with_long_words(report) if long else report))
    width = page.evaluate("document.documentElement.scrollWidth")
    page.close()

    assert width <= 360


def test_it_asks_for_nothing(browser: Browser, text: str) -> None:
    page = browser.new_page()
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.set_content(text, wait_until="networkidle")
    page.close()

    assert [url for url in asked if not url.startswith("data:")] == []


@pytest.mark.parametrize("width", [360, 1280])
def test_axe_finds_nothing_serious(browser: Browser, text: str, width: int) -> None:
    """By axe-core's WCAG 2.2 AA rules."""
    page = browser.new_page(viewport={"width": width, "height": 800})
    page.set_content(text)
    findings = serious_findings(page)
    page.close()

    assert findings == []
