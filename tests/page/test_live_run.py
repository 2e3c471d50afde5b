"""Whole steps by the page alone, on the real service and the practice bench: turned, heard, taken over, interrupted."""

import re
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import BrowserContext, Page, expect

from tests.page.conftest import OpenContext
from tests.page.live_hands import KEEP_SOUND, LONGEST_MS, KeyboardHands, PageHands, open_step
from tests.page.practice import lasting_port, practice_process, practice_service
from tests.page.reach import tab_to

SPEED = 20.0
"""How many times as fast as a real bench."""

PHONE = {"viewport": {"width": 390, "height": 844}, "is_mobile": True, "has_touch": True, "device_scale_factor": 2}


@pytest.fixture
def context(new_context: OpenContext) -> BrowserContext:
    """Open a browser whose audio graph can be looked into."""
    opened = new_context()
    opened.add_init_script(KEEP_SOUND)
    return opened


def begin(page: Page) -> None:
    """Begin the step that is in view, or go on with it."""
    page.get_by_role("button", name=re.compile("^(Start|Continue this step)$")).click()
    expect(page.locator(".live")).to_be_visible()


def ask(page: Page, address: str, path: str) -> Any:  # noqa: ANN401 - JSON
    """Ask the service what the page would ask."""
    return page.request.get(f"{address.rstrip('/')}{path}").json()


def step_state(page: Page, address: str, step: str) -> dict[str, Any]:
    """Give what the record says of a step of the first job."""
    steps = ask(page, address, "/api/jobs/1")["steps"]
    return dict(next(each for each in steps if each["id"] == step)["state"])


def test_a_can_is_adjusted_by_the_page_alone(context: BrowserContext, tmp_path: Path) -> None:
    """Leads, controls, as found, both slugs turned by the knobs, as left; judged by the truth of the receiver."""
    page = context.new_page()
    with practice_service(tmp_path / "record.sqlite", seed=5, speed=SPEED) as address:
        open_step(page, address, "Millrace 5", "filter-can-2")
        before = ask(page, address, "/api/practice/truth")["circuits"]["can 2"]
        begin(page)
        hands = PageHands(page)

        hands.work()

        expect(page.locator("body")).to_contain_text("good", timeout=LONGEST_MS)
        state = step_state(page, address, "filter-can-2")
        after = ask(page, address, "/api/practice/truth")["circuits"]["can 2"]
    assert any(told.startswith("Turn can 2") for told in hands.told)
    assert state["ending"] is not None
    # The limit is a tenth of the width; 455 kHz is what the receiver file calls for.
    assert abs(before["centre_hz"] - 455e3) > 0.1 * before["width_3db_hz"]
    assert abs(after["centre_hz"] - 455e3) < 0.1 * after["width_3db_hz"]


def test_an_oscillator_is_brought_to_zero_beat_by_the_sound_of_the_page(
    context: BrowserContext, tmp_path: Path
) -> None:
    """The error shown and the tones agree all the way, and end on one pitch; so does the oscillator itself."""
    page = context.new_page()
    with practice_service(tmp_path / "record.sqlite", seed=5, speed=SPEED) as address:
        open_step(page, address, "Skerry 7", "beat-oscillator")
        begin(page)
        page.get_by_role("button", name="Sound is off").click()
        hands = PageHands(page)

        hands.work()

        state = step_state(page, address, "beat-oscillator")
        truth_hz = ask(page, address, "/api/practice/truth")["oscillators"]["beat oscillator"]
    far = [(error, tone - steady) for error, steady, tone in hands.heard if abs(error) > 10]
    assert len(far) > 5
    assert all(error * beat > 0 for error, beat in far), "the side is told by the side of the pitch"
    last_error, steady_hz, tone_hz = hands.heard[-1]
    assert abs(tone_hz - steady_hz) < min(abs(beat) for _, beat in far)
    assert steady_hz == 500
    assert hands.words[-1] == "done"
    assert abs(last_error) < 20
    assert state["verdict"] == "leave"
    # The receiver file's limit for this oscillator is 20 Hz about 85 kHz.
    assert abs(truth_hz - 85e3) < 20


def reach_live(page: Page, address: str) -> PageHands:
    """Begin the beat oscillator and come to where its slug is turned live."""
    open_step(page, address, "Skerry 7", "beat-oscillator")
    begin(page)
    hands = PageHands(page)
    hands.work(until="live")
    return hands


def test_a_second_page_watches_the_needle_and_takes_over(new_context: OpenContext, tmp_path: Path) -> None:
    """Both see the same; the key of the first does nothing any more, that of the second finishes."""
    first = new_context().new_page()
    with practice_service(tmp_path / "record.sqlite", seed=5, speed=SPEED) as address:
        reach_live(first, address)
        second = new_context(**PHONE).new_page()
        second.goto(first.url)
        expect(second.locator(".now__word")).to_be_visible()
        expect(second.get_by_role("button", name="Finished")).to_be_hidden()
        expect(second.get_by_role("button", name="Stop", exact=True)).to_be_hidden()

        second.get_by_role("button", name="Take over").tap()

        expect(second.get_by_role("button", name="Finished")).to_be_visible()
        expect(first.locator("#urgent")).to_contain_text("Another page has taken over the bench.")
        first.keyboard.press("Space")
        expect(first.locator(".live__hint")).to_contain_text("Another page operates the bench")
        expect(first.get_by_role("button", name="Finished")).to_be_hidden()
        second.bring_to_front()
        PageHands(second).work()
        assert step_state(second, address, "beat-oscillator")["verdict"] == "leave"


def test_a_reload_while_a_slug_is_turned_finds_the_needle_again(new_context: OpenContext, tmp_path: Path) -> None:
    """And the same page still operates."""
    page = new_context().new_page()
    with practice_service(tmp_path / "record.sqlite", seed=5, speed=SPEED) as address:
        reach_live(page, address)

        page.reload()

        expect(page.locator(".now__word")).to_be_visible()
        expect(page.get_by_role("heading", name="beat oscillator slug")).to_be_visible()
        expect(page.get_by_role("button", name="Finished")).to_be_visible()
        PageHands(page).work()
        assert step_state(page, address, "beat-oscillator")["verdict"] == "leave"


def test_a_reload_while_a_question_stands_finds_the_question_again(new_context: OpenContext, tmp_path: Path) -> None:
    """Nothing is asked twice and nothing is lost."""
    page = new_context().new_page()
    with practice_service(tmp_path / "record.sqlite", seed=5, speed=SPEED) as address:
        open_step(page, address, "Skerry 7", "beat-oscillator")
        begin(page)
        asked = page.locator(".question__text").inner_text()

        page.reload()

        expect(page.locator(".question__text")).to_have_text(asked)


def test_a_service_that_is_killed_and_started_again_goes_on_with_the_step(
    new_context: OpenContext, tmp_path: Path
) -> None:
    """The page says what it lost, and the person goes on with one press; as found is not measured again."""
    page = new_context().new_page()
    record = tmp_path / "record.sqlite"
    port = lasting_port()
    with practice_process(record, seed=5, port=port, speed=SPEED) as (service, address):
        reach_live(page, address)
        service.kill()
        expect(page.locator(".now__old")).to_contain_text("The service is out of reach.")
        expect(page.locator("#urgent")).to_contain_text("out of reach")
    with practice_process(record, seed=5, port=port, speed=SPEED):
        expect(page.locator("#urgent")).not_to_contain_text("out of reach", timeout=LONGEST_MS)
        found = step_state(page, address, "beat-oscillator")["as_found"]
        assert found

        begin(page)
        PageHands(page).work()

        state = step_state(page, address, "beat-oscillator")
        assert state["as_found"] == found
        assert state["verdict"] == "leave"


def test_a_step_is_done_with_the_keyboard_alone(new_context: OpenContext, tmp_path: Path) -> None:
    """Begun, answered, turned and finished by Tab, Enter, the arrow keys and the space bar."""
    page = new_context().new_page()
    with practice_service(tmp_path / "record.sqlite", seed=5, speed=SPEED) as address:
        open_step(page, address, "Skerry 7", "beat-oscillator")
        tab_to(page, ".work-panel .button--go")
        page.keyboard.press("Enter")
        expect(page.locator(".live")).to_be_focused()

        KeyboardHands(page).work()

        assert step_state(page, address, "beat-oscillator")["verdict"] == "leave"


def test_on_a_phone_the_whole_area_is_the_step_key(new_context: OpenContext, tmp_path: Path) -> None:
    """Propped up beside the receiver: questions and the end are answered by taps on it."""
    phone = new_context(**PHONE).new_page()
    with practice_service(tmp_path / "record.sqlite", seed=5, speed=SPEED) as address:
        open_step(phone, address, "Skerry 7", "beat-oscillator")
        begin(phone)

        PageHands(phone, finger=True).work()

        assert step_state(phone, address, "beat-oscillator")["verdict"] == "leave"
