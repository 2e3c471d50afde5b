"""A run of a step that is to begin again from its beginning, at the page's button."""

from playwright.sync_api import expect

from tests.page.conftest import Fake, OpenAt
from tests.page.sample_jobs import job_on_its_way


def test_a_run_that_is_on_begins_again_at_a_button(open_at: OpenAt, fake: Fake) -> None:
    """Its word follows the phase; between two runs, where what comes next is asked, it is not there."""
    number = job_on_its_way(fake.jobs)
    page = open_at(f"jobs/{number}/passband-symmetry")
    page.get_by_role("button", name="Start", exact=True).click()
    measure, adjust = (page.get_by_role("button", name=f"{word} again", exact=True) for word in ("Measure", "Adjust"))
    expect(page.get_by_role("button", name="Stop", exact=True)).to_be_visible()
    expect(measure).to_be_hidden()

    assert fake.bench.session is not None
    fake.bench.session["run"] = 7
    fake.bench.change()
    measure.click()
    expect(page.locator("body")).to_contain_text("It starts again.")
    assert fake.jobs.agains == 1

    fake.jobs.phase("adjust")
    adjust.click()
    expect(measure).to_be_hidden()
    fake.bench.session["run"] = None
    fake.bench.change()
    expect(adjust).to_be_hidden()
    assert fake.jobs.agains == 2
