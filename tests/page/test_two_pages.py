"""Two pages on one bench, reloads, and a service that goes away: the page says what it lost and goes on."""

from playwright.sync_api import Page, Route, expect

from tests.page.conftest import PATIENCE_S, Fake, OpenContext
from tests.page.steps import expect_readings_on_chart, start_scan, wait_for_result


def open_other(new_context: OpenContext, fake: Fake) -> Page:
    """Open the page in a second browser context: another person, another machine."""
    other = new_context().new_page()
    other.goto(f"{fake.address}#/scan")
    return other


def test_a_second_page_watches_and_takes_over(page: Page, fake: Fake, new_context: OpenContext) -> None:
    """Both see the same run; after the change of hands the new operator can stop it."""
    fake.bench.hold_after(9)
    start_scan(page)
    assert fake.bench.held.wait(PATIENCE_S)

    other = open_other(new_context, fake)

    expect(other.locator("#urgent")).to_contain_text("You are watching")
    expect_readings_on_chart(other, 9)
    expect(other.get_by_role("button", name="Scan", exact=True)).to_have_attribute("aria-disabled", "true")
    other.get_by_role("button", name="Take over").click()
    expect(page.locator("#urgent")).to_contain_text("Another page has taken over the bench.")
    expect(other.locator("#urgent")).not_to_contain_text("You are watching")
    other.get_by_role("button", name="Stop", exact=True).click()
    expect(other.locator("#ending")).to_contain_text("Stopped")
    expect(page.locator("#ending")).to_contain_text("Stopped")


def test_a_watcher_that_presses_stop_is_told_why_not(page: Page, fake: Fake, new_context: OpenContext) -> None:
    """The sentence stands beside the button."""
    fake.bench.hold_after(3)
    start_scan(page)
    assert fake.bench.held.wait(PATIENCE_S)
    other = open_other(new_context, fake)

    other.get_by_role("button", name="Stop", exact=True).click()

    expect(other.locator("#run-error")).to_have_text("Another page operates this bench; watch, or take over first.")


def test_a_watcher_may_always_switch_the_output_off(page: Page, fake: Fake, new_context: OpenContext) -> None:
    """Safety asks nobody for leave."""
    fake.bench.hold_after(3)
    start_scan(page)
    assert fake.bench.held.wait(PATIENCE_S)
    other = open_other(new_context, fake)

    other.get_by_role("button", name="Output off").click()

    expect(page.locator("#ending")).to_contain_text("Stopped")
    expect(other.get_by_role("banner").get_by_text("Output is off")).to_be_visible()


def test_a_reload_mid_run_finds_the_run_again_and_still_operates(page: Page, fake: Fake) -> None:
    """The readings before it are there, those after it come."""
    fake.bench.hold_after(11)
    start_scan(page)
    assert fake.bench.held.wait(PATIENCE_S)

    page.reload()

    expect_readings_on_chart(page, 11)
    expect(page.locator("#run")).to_be_visible()
    expect(page.locator("#urgent")).not_to_contain_text("watching")
    fake.bench.release()
    wait_for_result(page)
    expect_readings_on_chart(page, 24)


def test_what_is_read_between_the_record_and_the_live_feed_is_not_lost(
    page: Page, fake: Fake, new_context: OpenContext
) -> None:
    """The record was read before the feed stood: three readings taken in between are there all the same, mid-run."""
    fake.bench.hold_after(9)
    start_scan(page)
    assert fake.bench.held.wait(PATIENCE_S)
    held: list[Route] = []
    other = new_context().new_page()
    other.route("**/api/live**", lambda route: held.append(route))  # noqa: PLW0108 - the browser asks for a function
    other.goto(f"{fake.address}#/scans/1")
    expect_readings_on_chart(other, 9)

    fake.bench.pace_s = 0.3
    fake.bench.hold_at = 12
    fake.bench.released.set()
    expect_readings_on_chart(page, 10)
    fake.bench.released.clear()
    expect_readings_on_chart(page, 12)
    held[0].continue_()

    expect(other.locator("#urgent")).to_contain_text("You are watching")
    expect_readings_on_chart(other, 12)
    fake.bench.release()


def test_a_duplicated_tab_is_another_page_to_the_service(page: Page, fake: Fake) -> None:
    """Otherwise two pages would believe that they operate."""
    name = page.evaluate("sessionStorage.getItem('peakwright client')")
    twin = page.context.new_page()
    twin.add_init_script(f"sessionStorage.setItem('peakwright client', '{name}')")

    twin.goto(f"{fake.address}#/scan")
    expect(twin.locator("#mode")).to_have_text("Practice bench")

    assert twin.evaluate("sessionStorage.getItem('peakwright client')") != name


def test_a_service_that_goes_away_is_told_and_the_page_goes_on_when_it_is_back(page: Page, fake: Fake) -> None:
    """The output is then not known, and the page does not pretend otherwise."""
    start_scan(page)
    wait_for_result(page)
    fake.bench.closing.set()
    page.route("**/api/**", lambda route: route.abort())

    expect(page.locator("#urgent")).to_contain_text("The service is out of reach.")
    expect(page.get_by_role("banner").get_by_text("Output not known")).to_be_visible()
    expect(page.get_by_role("table", name="Result of the scan")).to_be_visible()
    fake.bench.closing.clear()
    page.unroute("**/api/**")
    expect(page.locator("#urgent")).not_to_contain_text("out of reach")
    expect(page.get_by_role("banner").get_by_text("Output is off")).to_be_visible()


def test_a_laptop_that_was_asleep_looks_again(new_context: OpenContext, fake: Fake) -> None:
    """Its stream may look open and be dead: what changed meanwhile is read, not waited for."""
    page = new_context().new_page()
    page.clock.install()
    page.goto(f"{fake.address}#/bench")
    expect(page.get_by_role("region", name="State")).to_contain_text("nothing is running")

    fake.bench.output_on = True  # and no stream tells
    page.clock.fast_forward(3_600_000)

    expect(page.get_by_role("region", name="State")).to_contain_text("Output is on")


def test_a_page_opened_before_the_service_has_instruments_says_so(new_context: OpenContext, fake: Fake) -> None:
    """With what to do about it."""
    fake.bench.instruments = []

    page = open_other(new_context, fake)

    expect(page.get_by_role("banner")).to_contain_text("No instruments.")


def test_a_missing_instrument_is_named_and_can_be_looked_for_again(new_context: OpenContext, fake: Fake) -> None:
    """One press, no restart."""
    meter = fake.bench.instruments[1]
    meter.update(state="missing", detail="no answer at its address", identity=None)

    page = open_other(new_context, fake)

    expect(page.locator("#banners")).to_contain_text("The meter is missing: no answer at its address.")
    page.get_by_role("button", name="Look again").click()
    expect(page.locator("#banners")).not_to_contain_text("missing")
