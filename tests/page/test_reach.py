"""The page for everybody: keyboard alone, a phone, light and dark, large contrast, screen readers, paper."""

import re

import pytest
from playwright.sync_api import Page, Route, expect

from tests.page.conftest import PATIENCE_S, Fake, OpenContext
from tests.page.reach import PHONE, no_sideways_scroll, serious_findings, tab_to
from tests.page.steps import kept, scan_times, start_scan, wait_for_result


def test_a_scan_can_be_set_up_run_and_read_with_the_keyboard_alone(page: Page, fake: Fake) -> None:
    """Every control is reached by Tab in reading order, and nothing needs a mouse."""
    tab_to(page, "#receiver")
    tab_to(page, "#target")
    page.keyboard.press("ArrowDown")
    expect(page.get_by_label("What to scan")).to_have_value("skerry-7-4")
    tab_to(page, "#start")
    page.keyboard.press("Control+A")
    page.keyboard.type("57")
    tab_to(page, "#level")
    tab_to(page, "#scan")
    page.keyboard.press("Enter")

    wait_for_result(page)
    assert fake.bench.scans[0]["order"]["start_hz"] == 57_000
    tab_to(page, "#chart-cursor")
    page.keyboard.press("ArrowRight")
    expect(page.locator("#chart-cursor-text")).to_have_text(re.compile("^Reading "))
    tab_to(page, ".kept__open")
    page.keyboard.press("Enter")
    expect(page.locator("#announcer")).to_have_text("Scan 1 is in view.")


def test_keys_scan_stop_and_switch_off_wherever_the_focus_is(page: Page, fake: Fake) -> None:
    """Escape stops, F8 switches off, Ctrl+Enter scans; none of them is a letter."""
    expect(page.get_by_role("button", name="Scan", exact=True)).to_have_attribute("aria-disabled", "false")
    fake.bench.hold_after(4)
    page.get_by_label("Source level").focus()

    page.keyboard.press("Control+Enter")
    assert fake.bench.held.wait(PATIENCE_S)
    expect(page.locator("#run")).to_be_visible()
    page.keyboard.press("Escape")
    expect(page.locator("#ending")).to_contain_text("Stopped")
    expect(page.locator("#announcer")).to_have_text("Scan stopped. The scan was stopped.")

    fake.bench.output_on = True
    page.keyboard.press("F8")
    expect(page.locator("#announcer")).to_have_text("Output off asked for.")
    assert fake.bench.output_on is False


def test_the_keys_are_listed_on_the_page(page: Page) -> None:
    """In a dialog that opens and closes by keyboard and gives the focus back."""
    page.get_by_role("button", name="Keys").press("Enter")

    dialog = page.get_by_role("dialog", name="Keys")
    for key in ("Ctrl", "Esc", "F8"):
        expect(dialog.get_by_text(key, exact=True)).to_be_visible()
    page.keyboard.press("Escape")
    expect(dialog).to_be_hidden()
    expect(page.get_by_role("button", name="Keys")).to_be_focused()


def test_the_focus_can_be_seen_on_every_control(page: Page) -> None:
    """Each stop of the Tab key draws an outline three pixels wide, on itself or on the frame around it."""
    unseen = []
    for _ in range(40):
        page.keyboard.press("Tab")
        seen = page.evaluate(
            """() => {
                const width = element => getComputedStyle(element).outlineStyle === "none" ? 0
                    : parseFloat(getComputedStyle(element).outlineWidth);
                for (let element = document.activeElement; element && element !== document.body;
                     element = element.parentElement) if (width(element) >= 3) return "";
                return document.activeElement.outerHTML.slice(0, 80);
            }"""
        )
        if seen and not seen.startswith("<body"):
            unseen.append(seen)

    assert unseen == []


def test_what_the_keyboard_reaches_is_not_hidden_behind_the_strip_or_the_scan_button(page: Page) -> None:
    """WCAG 2.2, 2.4.11: the middle of each focused control is the control itself."""
    page.emulate_media(reduced_motion="reduce")
    hidden = []
    for _ in range(40):
        page.keyboard.press("Tab")
        hidden += page.evaluate(
            """() => {
                const element = document.activeElement;
                if (element === document.body || element.closest(".skip, .top")) return [];
                const box = element.getBoundingClientRect();
                const at = document.elementFromPoint(box.left + box.width / 2, box.top + Math.min(box.height, 40) / 2);
                const same = at && (element.contains(at) || at.contains(element) || at.closest("label, .measure"));
                return same ? [] : [element.outerHTML.slice(0, 80)];
            }"""
        )

    assert hidden == []


@pytest.mark.parametrize("state", ["empty", "running", "result"])
def test_a_phone_needs_no_sideways_scroll(new_context: OpenContext, fake: Fake, state: str) -> None:
    """360 pixels, the narrowest that is common, in each state of the page."""
    fake.bench.doubts = ("The upper 3 dB point lies outside the sweep, so no width is given; widen the sweep.",)
    page = new_context(**PHONE).new_page()
    page.goto(f"{fake.address}#/scan")
    page.locator(".bk-Figure").wait_for()

    if state == "running":
        fake.bench.hold_after(12)
        start_scan(page)
        assert fake.bench.held.wait(PATIENCE_S)
        expect(page.get_by_role("button", name="Stop", exact=True)).to_be_in_viewport()
    if state == "result":
        scan_times(page, 2)
        kept(page, 1).get_by_label("Overlay").check()

    expect(page.get_by_role("button", name="Output off")).to_be_in_viewport()
    assert no_sideways_scroll(page)


def test_a_laptop_zoomed_to_four_times_needs_no_sideways_scroll(page: Page) -> None:
    """WCAG 2.2, 1.4.10: 1280 by 1024 pixels at 400 % are 320 by 256."""
    scan_times(page, 1)

    page.set_viewport_size({"width": 320, "height": 256})

    assert no_sideways_scroll(page)


def test_the_chart_follows_light_and_dark(page: Page) -> None:
    """The colours of page and chart change together, while the page stands open."""
    scan_times(page, 1)
    page.locator(".bk-Figure").wait_for()
    background = "getComputedStyle(document.querySelector('#view')).backgroundColor"

    def corner() -> bytes:
        box = page.locator("#chart-canvas").bounding_box()
        assert box is not None
        return page.screenshot(clip={"x": box["x"], "y": box["y"], "width": 40, "height": 40})

    light, light_corner = page.evaluate(background), corner()
    page.emulate_media(color_scheme="dark")
    page.wait_for_timeout(300)

    assert page.evaluate(background) != light
    assert corner() != light_corner


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", ["laptop", "phone"])
def test_an_accessibility_checker_finds_nothing_serious(
    new_context: OpenContext, fake: Fake, scheme: str, size: str
) -> None:
    """Contrast, names, roles and order by axe-core's WCAG 2.2 AA rules, empty, running and with everything shown."""
    page = new_context(color_scheme=scheme, reduced_motion="reduce", **(PHONE if size == "phone" else {})).new_page()
    page.goto(f"{fake.address}#/scan")
    page.locator(".bk-Figure").wait_for()
    found = serious_findings(page)

    fake.bench.hold_after(12)
    start_scan(page)
    assert fake.bench.held.wait(PATIENCE_S)
    found += serious_findings(page)
    fake.bench.doubts = ("The upper 3 dB point lies outside the sweep.",)
    fake.bench.last_error = "The meter did not answer within 2 s."
    fake.bench.release()
    wait_for_result(page)
    fake.bench.last_error = "The meter did not answer within 2 s."
    fake.bench.change()
    scan_times_more(page)
    page.get_by_text("Readings as a table").click()
    page.get_by_text("Settings and instruments").click()
    page.get_by_label("Start", exact=True).fill("nowhere")
    start_scan(page)
    found += serious_findings(page)

    assert found == []


def scan_times_more(page: Page) -> None:
    """Take one more scan and lay the first over it."""
    start_scan(page)
    expect(page.locator("#view-subtitle")).to_contain_text("scan 2,")
    wait_for_result(page)
    kept(page, 1).get_by_label("Overlay").check()
    expect(page.locator("#chart-caption")).to_contain_text("B: ")


def test_milestones_are_announced_politely(page: Page, fake: Fake) -> None:
    """Start, and the result with its figures; not each reading."""
    fake.bench.hold_after(6)
    start_scan(page)
    assert fake.bench.held.wait(PATIENCE_S)
    announcer = page.locator("#announcer")
    expect(announcer).to_have_attribute("aria-live", "polite")
    expect(announcer).to_have_text(re.compile("started|percent"))

    fake.bench.release()

    expect(announcer).to_have_text("Scan completed. Centre 60.0237 ± 0.0086 kHz, 3 dB width 2.021 ± 0.025 kHz.")


def test_paper_shows_the_result_and_nothing_to_press(page: Page) -> None:
    """Black on white whatever the scheme, with the settings unfolded."""
    scan_times(page, 1)
    page.emulate_media(media="print", color_scheme="dark")
    page.wait_for_timeout(300)

    expect(page.get_by_role("table", name="Result of the scan")).to_be_visible()
    expect(page.locator("#chart-paper svg")).to_be_visible()
    assert page.locator("#chart-paper svg path").count() > 24  # a reading each, and the fit
    assert page.get_by_role("button").and_(page.locator(":visible")).count() == 0
    assert page.evaluate("getComputedStyle(document.querySelector('#view')).color") == "rgb(17, 32, 27)"
    expect(page.locator("#settings-body")).to_be_visible()


def test_paper_shows_the_chart_though_it_was_still_being_fetched(page: Page) -> None:
    """Who prints at once gets the chart as well."""
    scan_times(page, 1)
    held: list[Route] = []
    page.route("**/static/bokeh/bokeh.min.js", lambda route: held.append(route))  # noqa: PLW0108 - it marks its handler
    page.reload()
    expect(page.get_by_role("table", name="Result of the scan")).to_be_visible()
    page.emulate_media(media="print")
    expect(page.locator("html[data-paper]")).to_have_count(1)
    expect(page.locator("#chart-paper svg")).to_have_count(0)

    for route in held:
        route.continue_()

    expect(page.locator("#chart-paper svg")).to_be_visible()
    assert page.locator("#chart-paper svg path").count() > 24  # a reading each, and the fit
