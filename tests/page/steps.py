"""What a technician does on the page, step by step."""

import re

from playwright.sync_api import Locator, Page, expect


def start_scan(page: Page) -> None:
    """Press Scan once the page is ready for it."""
    scan = page.get_by_role("button", name="Scan", exact=True)
    expect(scan).to_have_attribute("aria-disabled", "false")
    scan.click()


def result_table(page: Page) -> Locator:
    """Find the table of the result."""
    return page.get_by_role("table", name="Result of the scan")


def wait_for_result(page: Page, *, longest_ms: float | None = None) -> None:
    """Wait until a completed scan is in view."""
    expect(result_table(page)).to_be_visible(timeout=longest_ms)
    expect(page.locator("#run")).to_be_hidden(timeout=longest_ms)


def result_row(page: Page, name: str) -> list[str]:
    """Read the cells of one row of the result table."""
    return result_table(page).get_by_role("row", name=name).get_by_role("cell").all_inner_texts()


def expect_readings_on_chart(page: Page, count: int) -> None:
    """Wait until the chart's description counts so many readings."""
    expect(page.locator("#chart-plot")).to_have_attribute("aria-label", re.compile(rf": {count} readings[.,]"))


def scan_times(page: Page, times: int) -> None:
    """Take so many scans, one after the other."""
    for taken in range(1, times + 1):
        start_scan(page)
        expect(page.locator("#view-subtitle")).to_contain_text(f"scan {taken},")
        wait_for_result(page)
        expect(page.locator(".kept__item")).to_have_count(taken)


def kept(page: Page, place: int) -> Locator:
    """Find one kept scan in the list, 0 being the newest."""
    return page.locator(".kept__item").nth(place)


def containing(text: str) -> re.Pattern[str]:
    """Match whatever holds this text, any blank standing for any other."""
    return re.compile(re.escape(text).replace("\\ ", r"\s"))
