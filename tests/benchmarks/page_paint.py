"""How soon each part of the page can be read, and how smoothly its chart moves with 5,000 readings on it.

On loopback, with a service that answers at once; the browser draws without a graphics card, as the slowest bench would.
"""

import re
import shutil
from statistics import median

from playwright.sync_api import Browser, Page, expect, sync_playwright

from tests.page.conftest import CHROMIUM_SWITCHES, serving
from tests.page.fake_service import FakeBench
from tests.page.sample_jobs import job_done, job_on_its_way

TIMES = 5
READINGS = 5_000
AIM_MS = 1000.0

PLACES = {"jobs": "jobs", "a job": "jobs/1", "a step": "jobs/1/beat-oscillator", "scan": "scan", "records": "records"}

PAINT = """() => performance.getEntriesByName("first-contentful-paint")[0].startTime"""
READY = """() => performance.now()"""

FRAMES = """async () => {
    const buttons = [...document.querySelectorAll("#jobs-page .chart__bar .actions .button")];
    const taken = [];
    for (let time = 0; time < 40; time += 1) {
        const begun = performance.now();
        buttons[time % 2].click();
        await new Promise((painted) => requestAnimationFrame(() => setTimeout(painted, 0)));
        taken.push(performance.now() - begun);
    }
    return taken;
}"""
"""Zoom in and out, and note how long each frame takes from the press to its end."""


def main() -> None:
    """Print the times."""
    with sync_playwright() as playwright, serving(FakeBench()) as fake:
        number = job_on_its_way(fake.jobs)
        job_done(fake.jobs)
        fake.jobs.step(number, "passband-third")["state"]["runs"].clear()
        fake.jobs.add_run(number, "passband-third", "as found", 210.0, readings=READINGS)
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=list(CHROMIUM_SWITCHES))
        for name, place in PLACES.items():
            seen = [_opened(browser, f"{fake.address}#/{place}") for _ in range(TIMES)]
            paint, ready = (median(each) for each in zip(*seen, strict=True))
            told = f"{name}: first paint after {paint:.0f} ms, all there after {ready:.0f} ms"
            print(f"  {told} (median of {TIMES}; aim {AIM_MS:.0f} ms)")  # noqa: T201 - a benchmark prints
        page = browser.new_page(viewport={"width": 1366, "height": 850})
        frames = _frames(page, f"{fake.address}#/jobs/{number}/passband-third")
        fastest, usual = min(frames), median(frames)
        told = f"a frame of the chart with {READINGS} readings: {usual:.0f} ms median, {fastest:.0f} ms at best"
        print(f"  {told}")  # noqa: T201 - the same
        browser.close()


def _opened(browser: Browser, address: str) -> tuple[float, float]:
    context = browser.new_context()
    page = context.new_page()
    page.goto(address)
    page.locator("h1:visible, #view-title").first.wait_for()
    expect(page.locator("main .hint:visible", has_text="Asking")).to_have_count(0)
    ready: float = page.evaluate(READY)
    paint: float = page.evaluate(PAINT)
    context.close()
    return paint, ready


def _frames(page: Page, address: str) -> list[float]:
    page.goto(address)
    page.locator("#step-chart-canvas .bk-Figure").wait_for()
    expect(page.locator("#step-chart-plot")).to_have_attribute("aria-label", re.compile(f": {READINGS} readings"))
    page.wait_for_timeout(500)
    taken: list[float] = page.evaluate(FRAMES)
    return taken


if __name__ == "__main__":
    main()
