"""The page on the real service and the practice bench: nothing between the browser and the instruments is played."""

import csv
import json
import re
import socket
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Page, expect

from tests.page.conftest import PATIENCE_S, OpenContext
from tests.page.practice import practice_service
from tests.page.steps import kept, result_row, start_scan, wait_for_result

LONGEST_MS = 60_000
"""How long a scan at the practice instruments' own pace may take on a busy machine."""


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """One practice bench for these tests; each leaves it idle."""
    with practice_service(tmp_path_factory.mktemp("practice") / "record.sqlite") as started:
        yield started


@pytest.fixture
def page(new_context: OpenContext, address: str) -> Page:
    """The page on it, set to the narrow passband of the Skerry 7."""
    opened = new_context().new_page()
    opened.goto(f"{address}#/scan")
    opened.get_by_label("Receiver").select_option("Skerry 7")
    return opened


def ask(page: Page, path: str) -> Any:  # noqa: ANN401 - JSON
    """Ask the service what the page would ask."""
    return page.request.get(f"{page.url.split('#', maxsplit=1)[0]}{path}").json()


def start_even_sweep(page: Page, readings: int) -> None:
    """Start a sweep that is long enough to be interrupted, without the calibration that would come first."""
    page.get_by_label("Detector law").select_option("Linear")
    page.get_by_label("Even sweep over the range").check()
    page.get_by_label("Number of readings").fill(str(readings))
    start_scan(page)


def output_by_its_own_word(page: Page) -> str:
    """Ask the source itself, past the service, whether its output is on."""
    source = next(each for each in ask(page, "api/bench")["instruments"] if each["role"] == "source")
    port = int(source["address"].split("::")[2])
    with socket.create_connection(("127.0.0.1", port), timeout=PATIENCE_S) as wire:
        wire.sendall(b":OUTP?\n")
        return wire.makefile().readline().strip()


def test_a_passband_is_scanned_fitted_shown_and_kept(page: Page, tmp_path: Path) -> None:
    """What the page shows is what the service found, and the file holds every reading."""
    expect(page.locator("#hookup")).to_contain_text(re.compile("third mixer"))
    start_scan(page)
    wait_for_result(page, longest_ms=LONGEST_MS)

    number = ask(page, "api/scans")[0]["id"]
    scan = ask(page, f"api/scans/{number}")
    assert scan["ending"] == "completed"
    shown = float(result_row(page, "Centre")[0].removesuffix(" kHz").replace("\N{NARROW NO-BREAK SPACE}", ""))
    assert shown * 1e3 == pytest.approx(scan["result"]["centre_hz"], abs=scan["result"]["centre_sigma_hz"] / 10)
    with page.expect_download() as download:
        kept(page, 0).get_by_role("link", name="CSV").click()
    download.value.save_as(tmp_path / "readings.csv")
    rows = list(csv.DictReader((tmp_path / "readings.csv").read_text().splitlines()))
    assert len(rows) == len(scan["readings"])
    with page.expect_download() as download:
        kept(page, 0).get_by_role("link", name="JSON").click()
    download.value.save_as(tmp_path / "scan.json")
    assert len(json.loads((tmp_path / "scan.json").read_text())["readings"]) == len(rows)
    assert output_by_its_own_word(page) == "0"


def test_stop_leaves_the_output_off_by_the_sources_own_word(page: Page) -> None:
    """A long even sweep, stopped on its way."""
    start_even_sweep(page, 2000)
    expect(page.locator("#run-done")).to_have_text(re.compile(r"^Reading \d+ of 2000"))
    expect(page.get_by_role("banner").get_by_text("Output is on")).to_be_visible()
    assert output_by_its_own_word(page) == "1"

    page.get_by_role("button", name="Stop", exact=True).click()

    expect(page.locator("#ending")).to_contain_text("Stopped")
    expect(page.get_by_role("banner").get_by_text("Output is off")).to_be_visible()
    assert output_by_its_own_word(page) == "0"


def test_a_second_page_takes_a_running_scan_over(page: Page, new_context: OpenContext, address: str) -> None:
    """After the change of hands the first page can no longer stop it, the second can."""
    start_even_sweep(page, 2000)
    expect(page.locator("#run-done")).to_have_text(re.compile("^Reading"))
    other = new_context().new_page()
    other.goto(f"{address}#/scan")
    expect(other.locator("#urgent")).to_contain_text("You are watching")

    other.get_by_role("button", name="Take over").click()

    expect(page.locator("#urgent")).to_contain_text("Another page has taken over the bench.")
    page.get_by_role("button", name="Stop", exact=True).click()
    expect(page.locator("#run-error")).not_to_be_empty()
    other.get_by_role("button", name="Stop", exact=True).click()
    expect(page.locator("#ending")).to_contain_text("Stopped")


def test_a_reload_mid_run_loses_no_reading(page: Page) -> None:
    """The chart before it and the record after it agree."""
    start_even_sweep(page, 60)
    expect(page.locator("#run-done")).to_have_text(re.compile(r"^Reading (?:[5-9]|[1-5]\d) of 60"))

    page.reload()

    wait_for_result(page, longest_ms=LONGEST_MS)
    told = re.search(
        r": (\d+) readings?(?:, (\d+) not used)?", page.locator("#chart-plot").get_attribute("aria-label") or ""
    )
    assert told is not None
    assert int(told[1]) + int(told[2] or 0) == 60
