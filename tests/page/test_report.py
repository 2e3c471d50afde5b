"""A report in a browser: on a phone, and on paper."""

from collections.abc import Iterator
from pathlib import Path

import pypdfium2
import pytest
from playwright.sync_api import Browser, Page

from server.report.content import Cell, Report, Table
from server.report.html import html_report
from tests.page.reach import serious_findings
from tests.server.report.jobs import customer_store, report_of
from tests.server.report.reading import with_long_words

HEIGHTS_MM = range(150, 320, 10)
FOOT_PT = 15 / 25.4 * 72
"""Within the margin, where the page's number stands."""

HEADS = {
    "As found As left Limit Verdict",
    "As found As left",
    "Figure As found As left Limit Verdict",
    "Verdict",
    "As left",
}
"""A table's head, as it may be read out of a page."""

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


def test_no_page_ends_with_a_heading_or_the_head_of_a_table(browser: Browser, report: Report, text: str) -> None:
    """Printed on sheets of many heights, so that pages end everywhere."""
    titles = [f"{section.title}{f' {section.word}' if section.word else ''}" for section in report.sections]
    captions = {block.caption for section in report.sections for block in section.blocks if isinstance(block, Table)}
    heads = {*titles, *captions, *HEADS, *(row[0].text for row in group_rows(report))}
    page = browser.new_page()
    page.set_content(text)
    last_lines = [line for height in HEIGHTS_MM for line in ends_of_pages(page, height)]
    page.close()

    assert len(set(last_lines)) > len(HEIGHTS_MM)
    assert not heads & set(last_lines)


def group_rows(report: Report) -> Iterator[tuple[Cell, ...]]:
    """Give the rows that are headings over the rows below them."""
    tables = (block for section in report.sections for block in section.blocks if isinstance(block, Table))
    return (row for table in tables for row in table.rows if len(row) == 1)


def ends_of_pages(page: Page, height_mm: int) -> Iterator[str]:
    """Give the last line of every page but the last, above its foot."""
    for sheet in list(
        pypdfium2.PdfDocument(page.pdf(width="210mm", height=f"{height_mm}mm", prefer_css_page_size=False))
    )[:-1]:
        width, height = sheet.get_size()
        said = sheet.get_textpage().get_text_bounded(0, FOOT_PT, width, height - FOOT_PT)
        yield " ".join(said.replace("\u00a0", " ").strip().splitlines()[-1].split())


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
