"""Kept scans: listed, reopened, laid over one another, taken away as files."""

import json
from pathlib import Path

from playwright.sync_api import Page, expect

from tests.page.conftest import Fake
from tests.page.steps import containing, kept, scan_times


def test_an_empty_record_says_what_it_will_hold(page: Page) -> None:
    """Nothing kept is not a blank."""
    expect(page.locator("#kept-state")).to_have_text("None yet. Every scan is kept, and the first will be listed here.")


def test_a_kept_scan_is_listed_with_its_figures_and_reopened(page: Page) -> None:
    """The oldest is found and shown in full."""
    scan_times(page, 2)
    oldest = kept(page, 1)

    expect(oldest).to_contain_text("60.0237 ± 0.0086 kHz, 2.021 kHz wide")
    expect(oldest).to_contain_text("completed")
    oldest.get_by_role("link", name="60 kHz passband, 2 kHz", exact=True).click()

    expect(page.locator("#view-subtitle")).to_contain_text("scan 1,")
    expect(page.get_by_role("table", name="Result of the scan")).to_be_visible()


def test_a_reload_keeps_the_scan_in_view_and_those_laid_over_it(page: Page) -> None:
    """The address names them all."""
    scan_times(page, 3)
    kept(page, 1).get_by_label("Overlay").check()
    expect(page.locator("#chart-caption")).to_contain_text("B: 60 kHz passband, 2 kHz, scan 2")

    page.reload()

    expect(page.locator("#view-subtitle")).to_contain_text("scan 3,")
    expect(page.locator("#chart-caption")).to_contain_text("B: 60 kHz passband, 2 kHz, scan 2")


def test_curves_laid_over_one_another_are_told_apart_by_letter_dash_and_marker(page: Page) -> None:
    """Nobody needs colours to tell one from another."""
    scan_times(page, 3)
    for place in (1, 2):
        kept(page, place).get_by_label("Overlay").check()

    key = page.locator("#chart-caption .key")
    expect(key.filter(has_text="A: ")).to_have_count(1)
    expect(key.filter(has_text="C: ")).to_have_count(1)
    dashes = {key.nth(place).locator("path").first.get_attribute("stroke-dasharray") for place in range(3)}
    markers = {key.nth(place).locator("g").inner_html() for place in range(3)}
    assert (len(dashes), len(markers)) == (3, 3)
    expect(page.locator("#chart-plot")).to_have_attribute("aria-label", containing("Laid over it: "))


def test_a_curve_is_taken_off_the_chart_again(page: Page) -> None:
    """From the key of the chart; the list agrees."""
    scan_times(page, 2)
    box = kept(page, 1).get_by_label("Overlay")
    box.check()

    page.get_by_role("button", name="off the chart").click()

    expect(box).not_to_be_checked()
    expect(page.locator("#chart-caption")).not_to_contain_text("B: ")


def test_a_kept_scan_downloads_as_csv_and_as_json(page: Page, fake: Fake, tmp_path: Path) -> None:
    """Under the names the service gives."""
    scan_times(page, 1)
    item = kept(page, 0)

    with page.expect_download() as csv:
        item.get_by_role("link", name="CSV").click()
    with page.expect_download() as document:
        item.get_by_role("link", name="JSON").click()

    assert csv.value.suggested_filename == "scan-1.csv"
    csv.value.save_as(tmp_path / "readings.csv")
    assert (tmp_path / "readings.csv").read_text().splitlines()[0] == "frequency_hz,level_db"
    document.value.save_as(tmp_path / "scan.json")
    assert json.loads((tmp_path / "scan.json").read_text())["settings"] == fake.bench.scans[0]["settings"]


def test_the_settings_of_a_kept_scan_go_back_into_the_form(page: Page) -> None:
    """A scan can be repeated as it was."""
    page.get_by_label("Start", exact=True).fill("57.5")
    page.get_by_label("Even sweep over the range").check()
    page.get_by_label("Number of readings").fill("9")
    scan_times(page, 1)
    page.get_by_label("What to scan").select_option("60 kHz passband, 4 kHz")
    expect(page.get_by_label("Start", exact=True)).to_have_value("52")

    page.get_by_role("button", name="Use these settings").click()

    expect(page.get_by_label("What to scan")).to_have_value("skerry-7-2")
    expect(page.get_by_label("Start", exact=True)).to_have_value("57.5")
    expect(page.get_by_label("Number of readings")).to_have_value("9")
