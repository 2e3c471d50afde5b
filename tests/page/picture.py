"""Take a picture of the page for the README, on the practice bench: `python -m tests.page.picture OUT.png [--live]`."""

import argparse
import shutil
import tempfile
from pathlib import Path
from typing import Literal

from playwright.sync_api import sync_playwright

from tests.page.conftest import CHROMIUM_SWITCHES
from tests.page.live_hands import PageHands, open_step
from tests.page.practice import practice_service
from tests.page.steps import start_scan, wait_for_result

WIDTH, HEIGHT = 1440, 1060
LIVE_HEIGHT, LIVE_NUDGES, LIVE_SPEED = 900, 3, 10.0
LONGEST_MS = 120_000


def take(out: Path, *, receiver: str, target: str, seed: int, scheme: Literal["light", "dark"]) -> None:
    """Scan a target and photograph the result."""
    with (
        tempfile.TemporaryDirectory() as folder,
        practice_service(Path(folder) / "record.sqlite", seed=seed) as address,
        sync_playwright() as playwright,
    ):
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=list(CHROMIUM_SWITCHES))
        page = browser.new_page(viewport={"width": WIDTH, "height": HEIGHT}, color_scheme=scheme)
        page.goto(f"{address}#/scan")
        page.get_by_label("Receiver").select_option(receiver)
        page.get_by_label("What to scan").select_option(target)
        start_scan(page)
        wait_for_result(page, longest_ms=LONGEST_MS)
        page.evaluate("scrollTo(0, 0); document.querySelector('#setup').scrollTo(0, 0)")
        page.wait_for_timeout(500)  # the pictures of a browser without a screen lag a frame behind
        page.screenshot(path=out)
        browser.close()


def take_live(out: Path, *, seed: int, scheme: Literal["light", "dark"]) -> None:
    """Begin the beat oscillator of the Skerry 7, turn its slug part of the way, and photograph that."""
    with (
        tempfile.TemporaryDirectory() as folder,
        practice_service(Path(folder) / "record.sqlite", seed=seed, speed=LIVE_SPEED) as address,
        sync_playwright() as playwright,
    ):
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=list(CHROMIUM_SWITCHES))
        page = browser.new_page(viewport={"width": WIDTH, "height": LIVE_HEIGHT}, color_scheme=scheme)
        open_step(page, address, "Skerry 7", "beat-oscillator")
        page.get_by_role("button", name="Start", exact=True).click()
        PageHands(page).work(until="live")
        for _ in range(LIVE_NUDGES):
            page.get_by_role("button", name="beat oscillator slug: anticlockwise ⅛").click()
            page.wait_for_timeout(400)
        page.screenshot(path=out)
        browser.close()


def main() -> None:
    """Read the arguments and take the picture."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path, help="where the PNG goes")
    parser.add_argument("--receiver", default="Skerry 7")
    parser.add_argument("--target", default="Third IF passband, 1.6 kHz")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--scheme", choices=("light", "dark"), default="light")
    parser.add_argument("--live", action="store_true", help="an adjuster being turned, instead of a scan")
    given = parser.parse_args()
    if given.live:
        return take_live(given.out, seed=given.seed, scheme=given.scheme)
    return take(given.out, receiver=given.receiver, target=given.target, seed=given.seed, scheme=given.scheme)


if __name__ == "__main__":
    main()
