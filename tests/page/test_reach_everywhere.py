"""Every part of the page for everybody: the checker, the phone, the keyboard, the heading, paper."""

import pytest
from playwright.sync_api import Page, expect

from tests.page.conftest import Fake, OpenAt
from tests.page.reach import PHONE, no_sideways_scroll, serious_findings, tab_to
from tests.page.sample_jobs import job_done, job_on_its_way, years_of_figures

PLACES = {
    "jobs": "jobs",
    "new job": "jobs/new",
    "job": "jobs/1",
    "step to do": "jobs/1/passband-symmetry",
    "step done": "jobs/1/passband-third",
    "step that waits": "jobs/1/filter-t1",
    "records": "records",
    "history": "records/history?receiver=skerry-7&serial=0412",
    "scans": "records/scans",
    "bench": "bench",
}


@pytest.fixture
def full(fake: Fake) -> Fake:
    """The fake with jobs, history and a missing instrument."""
    number = job_on_its_way(fake.jobs)
    job_done(fake.jobs)
    years_of_figures(fake.jobs, number)
    fake.bench.instruments[2].update(state="missing", detail="no answer at its address")
    return fake


def arrived(page: Page) -> None:
    """Wait until the part in view has what it shows."""
    expect(page.get_by_role("heading", level=1).and_(page.locator(":visible"))).to_have_count(1)
    expect(page.locator("main .hint:visible", has_text="Asking for")).to_have_count(0)


@pytest.mark.usefixtures("full")
@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("place", PLACES)
def test_an_accessibility_checker_finds_nothing_serious_anywhere(open_at: OpenAt, place: str, scheme: str) -> None:
    """Contrast, names, roles and order by axe-core's WCAG 2.2 AA rules, on a laptop and on a phone."""
    page = open_at(PLACES[place], color_scheme=scheme, reduced_motion="reduce")
    arrived(page)
    found = serious_findings(page)
    page.set_viewport_size(PHONE["viewport"])  # type: ignore[arg-type]
    found += serious_findings(page)

    assert found == []


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_checker_finds_nothing_serious_while_a_step_is_on(open_at: OpenAt, full: Fake, scheme: str) -> None:
    """With a question, with the bar that leads to it, and watched from another page."""
    full.jobs.begin(1, "passband-symmetry", {"way": "edge against the beat oscillator", "turning": "live"})
    full.jobs.ask(3, "Set selectivity to 2 kHz.")
    full.bench.holder = "somebody else"
    found = []
    for place in ("jobs/1/passband-symmetry", "jobs/1", "bench"):
        page = open_at(place, color_scheme=scheme, reduced_motion="reduce")
        arrived(page)
        found += serious_findings(page)

    assert found == []


@pytest.mark.usefixtures("full")
@pytest.mark.parametrize("place", PLACES)
def test_no_part_scrolls_sideways_on_a_phone(open_at: OpenAt, place: str) -> None:
    """360 pixels, and the 320 that are a laptop at four times its size."""
    page = open_at(PLACES[place], **PHONE)
    arrived(page)

    expect(page.get_by_role("button", name="Output off")).to_be_in_viewport()
    assert no_sideways_scroll(page)
    page.set_viewport_size({"width": 320, "height": 256})
    assert no_sideways_scroll(page)


@pytest.mark.usefixtures("full")
def test_a_step_is_reached_and_begun_with_the_keyboard_alone(open_at: OpenAt, full: Fake) -> None:
    """From the list of jobs to the question."""
    page = open_at("jobs")
    arrived(page)

    tab_to(page, "#job-1")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Skerry 7", level=1)).to_be_focused()
    tab_to(page, ".progress .button--primary")
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Passband control symmetry", level=1)).to_be_focused()
    tab_to(page, ".button--go")
    page.keyboard.press("Enter")

    expect(page.locator(".step-head .stand")).to_have_text("on the bench")
    assert full.jobs.begun[0]["step"] == "passband-symmetry"


@pytest.mark.usefixtures("full")
def test_the_way_past_the_strip_leads_to_what_is_in_view(open_at: OpenAt) -> None:
    """And leaves the address as it was."""
    page = open_at("jobs/1")
    arrived(page)
    address = page.url

    page.keyboard.press("Tab")
    page.keyboard.press("Enter")

    expect(page.locator("#main")).to_be_focused()
    assert page.url == address


@pytest.mark.usefixtures("full")
def test_back_and_forward_lead_through_the_parts(open_at: OpenAt) -> None:
    """As through any pages."""
    page = open_at("jobs")
    page.get_by_role("link", name="Records", exact=True).click()
    expect(page).to_have_title("Jobs, records · Peakwright")
    page.get_by_role("link", name="Bench", exact=True).click()
    expect(page).to_have_title("Bench · Peakwright")

    page.go_back()
    expect(page.get_by_role("heading", name="Records", level=1)).to_be_visible()
    page.go_back()

    expect(page.get_by_role("heading", name="Jobs", level=1)).to_be_visible()


@pytest.mark.usefixtures("full")
def test_paper_shows_the_plan_and_nothing_to_press(open_at: OpenAt) -> None:
    """Black on white whatever the scheme."""
    page = open_at("jobs/1", color_scheme="dark")
    arrived(page)

    page.emulate_media(media="print", color_scheme="dark")

    expect(page.locator(".plan-row").first).to_be_visible()
    assert page.get_by_role("button").and_(page.locator(":visible")).count() == 0
    assert page.evaluate("getComputedStyle(document.querySelector('.plan-row')).color") == "rgb(17, 32, 27)"
