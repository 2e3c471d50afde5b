"""How every part of the page looks at four sizes, light and dark: nothing overlaps, sticks out, or is cut off.

`PEAKWRIGHT_PICTURES=folder` keeps the pictures for a person to look at.
"""

import os
from pathlib import Path

import pytest
from playwright.sync_api import Page, ViewportSize, expect

from tests.page.conftest import Fake, OpenAt
from tests.page.fake_live import FakePractice, guidance
from tests.page.reach import no_sideways_scroll
from tests.page.sample_jobs import job_done, job_on_its_way, years_of_figures

SIZES = ((1440, 900), (1024, 768), (390, 844), (844, 390))

CUT_OFF = """() => [...document.querySelectorAll("main *, header *, #urgent *")]
    .filter((each) => each.checkVisibility() && each.clientWidth > 1 && !each.closest(".unseen, svg, .chart__plot"))
    .filter((each) => [...each.childNodes].some((node) => node.nodeType === 3 && node.data.trim() !== ""))
    .filter((each) => {
        const style = getComputedStyle(each);
        const hides = (value) => value === "hidden" || value === "clip";
        return (hides(style.overflowX) && each.scrollWidth > each.clientWidth + 1)
            || (hides(style.overflowY) && each.scrollHeight > each.clientHeight + 1);
    })
    .map((each) => `${each.tagName}.${each.className}: ${each.textContent.trim().slice(0, 40)}`)"""
"""Texts that their own box cuts off."""

STICKS_OUT = """() => [...document.querySelectorAll("main :is(section, article, fieldset, li, .sheet, .practice)")]
    .filter((box) => box.checkVisibility())
    .flatMap((box) => {
        const edge = box.getBoundingClientRect().right;
        return [...box.querySelectorAll("button, input, select, textarea, p, .unit, .figure__value")]
            .filter((each) => each.checkVisibility() && !each.closest(".unseen, .table-frame, .chart__plot"))
            .filter((each) => !each.classList.contains("unseen") && each.getBoundingClientRect().right > edge + 1)
            .map((each) => `${each.tagName}.${each.className} of ${box.className}`);
    })"""
"""Controls and texts that reach past the right edge of the box they stand in."""

OVERLAPS = """() => {
    const all = [...document.querySelectorAll("main :is(button, a.button, input, select, textarea, h1, h2, h3)")]
        .filter((each) => each.checkVisibility() && !each.closest(".unseen, .chart__plot, .go"))
        .map((each) => [each, each.getBoundingClientRect()])
        .filter(([, box]) => box.width > 1 && box.height > 1);
    const found = [];
    all.forEach(([one, a], place) => {
        for (const [other, b] of all.slice(place + 1)) {
            if (one.contains(other) || other.contains(one)) continue;
            const across = Math.min(a.right, b.right) - Math.max(a.left, b.left);
            const down = Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top);
            const [name, under] = [one, other].map((each) => `${each.textContent.trim()} ${each.id}`);
            if (across > 2 && down > 2) found.push(`${name} over ${under}`);
        }
    });
    return found;
}"""
"""Controls and headings that lie over one another."""


@pytest.fixture
def full(fake: Fake) -> Fake:
    """A bench with jobs on it, and figures of years."""
    number = job_on_its_way(fake.jobs)
    job_done(fake.jobs)
    years_of_figures(fake.jobs, number)
    return fake


def put_on_the_bench(page: Page) -> None:
    """Start the step in view."""
    page.get_by_role("button", name="Start", exact=True).click()
    expect(page.locator(".step-head .stand")).to_have_text("on the bench")


def ask_something(page: Page, fake: Fake) -> None:
    """Let the step that is on the bench ask."""
    put_on_the_bench(page)
    leads = {"source": {"to": "third mixer", "through": "10 nF, 630 V"}, "meter": {"to": "detector"}}
    text = "Connect the source to third mixer, through 10 nF, 630 V, and the meter to detector."
    fake.jobs.ask(7, text, ("done", "cannot"), action="connect", detail={**leads, "controls": {"agc": "off"}})
    expect(page.locator(".question__text")).to_be_visible()


def turn_live(page: Page, fake: Fake) -> None:
    """Let an adjuster be turned."""
    put_on_the_bench(page)
    fake.jobs.phase("adjust")
    fake.bench.items.append({"run": 1, "seq": 1, "event": guidance()})
    expect(page.locator(".needle")).to_be_visible()


PLACES = {
    "jobs": ("jobs", None),
    "new-job": ("jobs/new", None),
    "job": ("jobs/1", None),
    "step": ("jobs/1/passband-symmetry", None),
    "step-measured": ("jobs/1/passband-third", None),
    "step-asks": ("jobs/1/passband-symmetry", ask_something),
    "step-turns": ("jobs/1/passband-symmetry", turn_live),
    "records": ("records", None),
    "history": ("records/history?receiver=skerry-7", None),
    "scan": ("scan", None),
    "bench": ("bench", None),
}


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("place", list(PLACES))
def test_nothing_overlaps_sticks_out_or_is_cut_off(open_at: OpenAt, full: Fake, place: str, scheme: str) -> None:
    """At a desk, on a small screen, on a phone and on a phone on its side."""
    address, prepare = PLACES[place]
    page = open_at(address, color_scheme=scheme, viewport=ViewportSize(width=1440, height=900))
    FakePractice().join(page)
    expect(page.get_by_role("heading", level=1).first).to_be_attached()
    if prepare is not None:
        prepare(page, full)
    wrong: dict[str, list[str]] = {}
    for width, height in SIZES:
        page.set_viewport_size({"width": width, "height": height})
        keep_picture(page, f"{place}-{width}-{scheme}")
        found = settled_faults(page)
        if found:
            wrong[f"{width} x {height}"] = found
    assert wrong == {}


@pytest.mark.usefixtures("full")
def test_a_chart_that_is_still_too_wide_does_not_widen_the_page(open_at: OpenAt) -> None:
    page = open_at("jobs/1/passband-third", viewport=ViewportSize(width=390, height=844))
    expect(page.locator(".chart__canvas > *").first).to_be_attached()
    page.evaluate("document.querySelector('.chart__canvas > *').style.minWidth = '1400px'")
    assert no_sideways_scroll(page)


def settled_faults(page: Page) -> list[str]:
    """What is wrong with the looks once the page has settled: a drawing is fitted to a new size a moment late."""
    found: list[str] = []
    for _ in range(20):
        found = [] if no_sideways_scroll(page) else ["the page scrolls sideways"]
        found += [each for look in (CUT_OFF, STICKS_OUT, OVERLAPS) for each in page.evaluate(look)]
        if not found:
            break
        page.wait_for_timeout(100)
    return found


def keep_picture(page: Page, name: str) -> None:
    """Keep what is in view, where somebody asked for it."""
    folder = os.environ.get("PEAKWRIGHT_PICTURES")
    if folder:
        page.wait_for_timeout(300)  # for the eye alone: transitions have ended
        page.screenshot(path=Path(folder) / f"{name}.png")
