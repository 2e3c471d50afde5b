"""The practice receiver under the hand: knobs, front, leads, another unit, and the truth only when asked for."""

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Locator, Page, expect

from tests.page.conftest import Fake, OpenContext, serving
from tests.page.fake_live import MOUNT_PRACTICE, FakePractice, open_harness
from tests.page.fake_service import FakeBench
from tests.page.reach import PHONE, no_sideways_scroll, serious_findings


@pytest.fixture(scope="module")
def fake() -> Iterator[Fake]:
    """One service for all of these: nothing here changes it."""
    with serving(FakeBench()) as running:
        yield running


@pytest.fixture
def bench() -> FakePractice:
    """A practice bench of the test's own."""
    return FakePractice()


@pytest.fixture
def page(new_context: OpenContext, fake: Fake, bench: FakePractice) -> Page:
    """Open a page with the practice panel alone."""
    opened = new_context().new_page()
    bench.join(opened)
    return open_harness(opened, fake.address, MOUNT_PRACTICE)


def knob(page: Page, name: str) -> Locator:
    """Bring an adjuster under the hand."""
    page.get_by_label("Adjuster").select_option(name)
    return page.get_by_role("slider", name=name)


def turned(bench: FakePractice) -> list[float]:
    """List the turns that were asked for."""
    return [body["turns"] for what, body in bench.asked if what == "turn"]


def test_it_is_marked_as_practice_and_says_what_stands_on_the_bench(page: Page) -> None:
    """In words, so that nobody takes it for a chassis."""
    panel = page.get_by_role("region", name="Practice bench")

    expect(panel.get_by_text("Practice", exact=True)).to_be_visible()
    expect(panel).to_contain_text("A simulated receiver.")
    expect(panel).to_contain_text("Skerry 7, unit 3")


def test_buttons_turn_by_eighths_and_by_less(page: Page, bench: FakePractice) -> None:
    """And the turns made so far stand beside the slot."""
    knob(page, "T2 secondary")

    page.get_by_role("button", name="T2 secondary: clockwise ⅛").click()
    expect(page.locator(".knob__told")).to_have_text("Turned ⅛ turn clockwise")
    page.get_by_role("button", name="T2 secondary: anticlockwise 1", exact=True).click()
    expect(page.locator(".knob__told")).to_have_text("Turned ⅞ turn anticlockwise")
    page.get_by_role("button", name="T2 secondary: anticlockwise 1/64").click()

    expect(page.locator(".knob__told")).to_have_text("Turned 0.891 turn anticlockwise")
    assert sum(turned(bench)) == pytest.approx(1 / 8 - 1 - 1 / 64)


def test_arrow_keys_turn_and_with_shift_turn_finely(page: Page, bench: FakePractice) -> None:
    """The slot tells a screen reader where it stands."""
    slot = knob(page, "T2 secondary")

    slot.press("ArrowRight")
    slot.press("ArrowUp")
    slot.press("Shift+ArrowDown")

    expect(slot).to_have_attribute("aria-valuetext", "Turned 0.234 turn clockwise")
    assert sum(turned(bench)) == pytest.approx(2 / 8 - 1 / 64)


def test_the_wheel_turns_only_what_has_the_focus(page: Page, bench: FakePractice) -> None:
    """Until then it scrolls the page."""
    slot = knob(page, "T2 secondary")
    slot.hover()
    page.mouse.wheel(0, -100)
    page.wait_for_timeout(200)
    assert turned(bench) == []

    slot.focus()
    page.mouse.wheel(0, -100)

    expect(slot).to_have_attribute("aria-valuetext", "Turned ⅛ turn clockwise")


def test_a_drag_round_the_slot_turns_it_as_far(page: Page, bench: FakePractice) -> None:
    """A quarter round clockwise, across the top where the angle jumps."""
    box = knob(page, "T2 secondary").bounding_box()
    assert box is not None
    x, y, arm = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2, box["width"] * 0.35

    page.mouse.move(x - arm * 0.707, y - arm * 0.707)
    page.mouse.down()
    page.mouse.move(x, y - arm, steps=8)
    page.mouse.move(x + arm * 0.707, y - arm * 0.707, steps=8)
    page.mouse.up()
    page.wait_for_timeout(300)

    assert sum(turned(bench)) == pytest.approx(0.25, abs=0.03)
    assert bench.positions["T2 secondary"] == pytest.approx(-0.88 + 0.25, abs=0.03)


def test_the_end_of_the_travel_is_felt(page: Page, bench: FakePractice) -> None:
    """What did not move is not counted as turned."""
    bench.positions["T2 secondary"] = 5.95
    page.evaluate("panel.refresh()")
    knob(page, "T2 secondary")

    page.get_by_role("button", name="T2 secondary: clockwise 1", exact=True).click()

    expect(page.get_by_role("region", name="Practice bench")).to_contain_text("at the end of its travel")
    assert bench.positions["T2 secondary"] == 6.0


def test_quick_turns_are_added_up_and_none_is_lost(page: Page, bench: FakePractice) -> None:
    """While one is on its way the next ones gather."""
    slot = knob(page, "T2 secondary")
    for _ in range(16):
        slot.press("ArrowRight")

    expect(slot).to_have_attribute("aria-valuetext", "Turned 2 turns clockwise")
    page.wait_for_timeout(300)
    assert sum(turned(bench)) == pytest.approx(2)


def test_the_front_and_the_leads_are_set_as_on_a_chassis(page: Page, bench: FakePractice) -> None:
    """A switch, a knob between two marks, a lead with what it goes through."""
    page.get_by_text("Front of the receiver").click()
    page.get_by_label("Selectivity").select_option("3.2 kHz")
    page.get_by_role("spinbutton", name="Dial").fill("312.5")
    page.get_by_role("spinbutton", name="Dial").press("Enter")
    page.get_by_text("Leads", exact=True).click()
    page.get_by_label("Source to").select_option("antenna")
    page.get_by_label("Source through").fill("50 ohm")
    page.get_by_label("Source through").press("Enter")
    page.wait_for_timeout(300)

    assert bench.controls == {"selectivity": "3.2 kHz", "dial": 312.5}
    assert bench.leads["source"] == {"to": "antenna", "through": "50 ohm"}


def test_the_truth_is_hidden_until_it_is_asked_for(page: Page, bench: FakePractice) -> None:
    """It is not even fetched."""
    page.get_by_text("Another receiver, and the truth").click()
    expect(page.get_by_text("1.1 turns")).to_have_count(0)
    assert all(what != "truth" for what, _ in bench.asked)

    page.get_by_role("button", name="Show the truth").click()

    expect(page.get_by_text("1.1 turns")).to_be_visible()
    page.get_by_role("button", name="Hide the truth").click()
    expect(page.get_by_text("1.1 turns")).to_have_count(0)


def test_another_unit_comes_on_the_bench_by_its_number(page: Page, bench: FakePractice) -> None:
    """The truth about the one before goes with it; what is no number is refused in a sentence."""
    page.get_by_text("Another receiver, and the truth").click()
    page.get_by_role("button", name="Show the truth").click()
    page.get_by_label("Unit (any whole number)").fill("17")
    page.get_by_role("combobox", name="Receiver").select_option("Millrace 5")

    page.get_by_role("button", name="Put it on the bench").click()

    expect(page.get_by_role("region", name="Practice bench")).to_contain_text("Millrace 5, unit 17")
    expect(page.get_by_text("1.1 turns")).to_have_count(0)
    assert (bench.seed, bench.receiver) == (17, "millrace-5")
    page.get_by_label("Unit (any whole number)").fill("-1")
    page.get_by_role("button", name="Put it on the bench").click()
    expect(page.get_by_role("alert").filter(has_text="whole number")).to_be_visible()


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_it_is_for_everybody(new_context: OpenContext, fake: Fake, bench: FakePractice, scheme: str) -> None:
    """An accessibility checker finds nothing serious with all unfolded, and a phone scrolls one way only."""
    page = new_context(color_scheme=scheme, reduced_motion="reduce", **PHONE).new_page()
    bench.join(page)
    open_harness(page, fake.address, MOUNT_PRACTICE)
    for name in ("Front of the receiver", "Leads", "Another receiver, and the truth"):
        page.get_by_text(name, exact=True).click()
    page.get_by_role("button", name=re.compile("(?<!anti)clockwise ⅛")).click()
    page.get_by_role("button", name="Show the truth").click()
    expect(page.get_by_text("1.1 turns")).to_be_visible()

    assert serious_findings(page) == []
    assert no_sideways_scroll(page)
