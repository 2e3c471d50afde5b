"""A part that is read again replaces no more than what changed: focus, folds, and what is being typed stay."""

from playwright.sync_api import expect

from tests.page.conftest import Fake, OpenAt
from tests.page.fake_jobs import finding
from tests.page.sample_jobs import job_on_its_way


def test_a_change_elsewhere_leaves_what_is_typed_the_focus_and_the_folds(open_at: OpenAt, fake: Fake) -> None:
    """Somebody writes a remark while another page ends a step."""
    number = job_on_its_way(fake.jobs)
    page = open_at(f"jobs/{number}/passband-third")
    page.get_by_text("2 runs of this step, with every reading").click()
    page.get_by_role("textbox", name="Remark").press_sequentially("L3 has been")
    chart = page.locator("#step-chart-canvas .bk-Figure")
    expect(chart).to_be_visible()
    chart.evaluate("element => { window.chart = element; }")

    fake.jobs.end_step(number, "passband-third", as_found=[finding("centre error", 1.5, 5, "%")], figures=[])

    expect(page.get_by_role("table", name="Figures of this step")).to_contain_text("1.5")
    page.keyboard.type(" turned before.")
    expect(page.get_by_role("textbox", name="Remark")).to_have_value("L3 has been turned before.")
    expect(page.get_by_role("textbox", name="Remark")).to_be_focused()
    expect(page.get_by_role("link", name="Readings of run 2")).to_be_visible()
    assert page.evaluate("window.chart.isConnected")


def test_a_way_that_is_chosen_stays_chosen_when_the_bench_changes(open_at: OpenAt, fake: Fake) -> None:
    """It is no part of the address, and the service is told of it each time."""
    number = job_on_its_way(fake.jobs)
    page = open_at(f"jobs/{number}/oscillator-third")
    page.get_by_label("By ear").check()
    expect(page.get_by_role("region", name="Cautions and hookup").locator(".leads")).not_to_contain_text("Counter")

    fake.bench.last_error = "The meter did not answer within 2 s."
    fake.bench.change()

    expect(page.locator("#banners")).to_contain_text("The meter did not answer")
    expect(page.get_by_label("By ear")).to_be_checked()
    expect(page.get_by_role("region", name="Cautions and hookup").locator(".leads")).not_to_contain_text("Counter")
