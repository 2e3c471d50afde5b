"""The step key: which press signals what, and which is none."""

import re

import pytest
from playwright.sync_api import Page, expect

from tests.page.fake_live import ask, guidance, level, question, sent, show
from tests.page.live.press import BOUNCE_MS, press


@pytest.mark.parametrize("key", ["Space", "Enter", "PageDown"])
def test_a_key_signals_a_nudge_in_step_and_fit(page: Page, key: str) -> None:
    """The space bar, and what foot pedals type as they come."""
    show(page, level(-20.0, -20.0, gauge="step and fit"))

    press(page, key)

    assert sent(page) == [["signal", "step"]]


def test_a_pedal_that_types_another_key_can_be_taught(page: Page) -> None:
    """By pressing it once; it is kept through a reload."""
    show(page, level(-20.0, -20.0, gauge="step and fit"))
    press(page, "b")
    assert sent(page) == []
    page.get_by_text("Tones and step key").click()
    page.get_by_role("button", name="Teach another key").click()
    page.keyboard.press("b")
    expect(page.locator(".live__fold")).to_contain_text("Space, Enter, Page Down, B;")

    press(page, "b")
    assert sent(page) == [["signal", "step"]]
    page.reload()
    page.wait_for_function("window.ready === true")
    show(page, level(-20.0, -20.0, gauge="step and fit"))
    press(page, "b")
    assert sent(page) == [["signal", "step"]]


def test_a_bouncing_pedal_and_a_held_key_are_one_press(page: Page) -> None:
    """What follows within a third of a second is not meant."""
    show(page, level(-20.0, -20.0, gauge="step and fit"))
    page.evaluate(
        """() => {
            for (const repeat of [false, false, true, true]) {
                const press = new KeyboardEvent("keydown", { key: " ", repeat, bubbles: true, cancelable: true });
                document.body.dispatchEvent(press);
            }
        }"""
    )

    assert sent(page) == [["signal", "step"]]


def test_the_key_belongs_to_a_button_that_was_reached_by_keyboard(page: Page) -> None:
    """But not to one that was pointed at before the hand went under the chassis."""
    show(page, level(-20.0, -20.0, gauge="step and fit"))
    sound = page.locator(".live__sound")
    for _ in range(12):
        page.keyboard.press("Tab")
        if page.evaluate("document.activeElement.matches('.live__sound')"):
            break
    press(page)
    expect(sound).to_have_attribute("aria-pressed", "true")
    assert sent(page) == []

    sound.click()
    press(page)

    expect(sound).to_have_attribute("aria-pressed", "false")
    assert sent(page) == [["signal", "step"]]


def test_typing_in_a_field_is_no_step(page: Page) -> None:
    """A remark written meanwhile has blanks in it."""
    page.evaluate("document.querySelector('main').append(document.createElement('textarea'))")
    show(page, level(-20.0, -20.0, gauge="step and fit"))

    page.locator("textarea").press("Space")

    assert sent(page) == []


def test_within_the_limit_the_key_finishes(page: Page) -> None:
    """At once, by the numbers."""
    show(page, guidance(error=20.0, word="hold"))

    press(page)

    assert sent(page) == [["signal", "done"]]


def test_outside_the_limit_finishing_wants_a_second_press(page: Page) -> None:
    """Said on the page; guidance of another adjuster forgets it."""
    show(page, guidance())
    press(page)
    assert sent(page) == []
    expect(page.locator(".live__sure")).to_have_text(re.compile("Press again to finish"))
    press(page)
    assert sent(page) == [["signal", "done"]]

    press(page)
    show(page, guidance(adjuster="T2 primary"))
    press(page)

    assert sent(page) == [["signal", "done"]]


def test_a_tap_anywhere_on_a_phone_is_the_step_key(phone: Page) -> None:
    """The whole live area is the button; twice in a row is once."""
    show(phone, level(-20.0, -20.0, gauge="step and fit"))

    phone.locator(".needle").tap()
    phone.locator(".now__word").tap()
    assert sent(phone) == [["signal", "step"]]
    phone.wait_for_timeout(BOUNCE_MS)
    phone.locator(".now__adjuster").tap()
    assert sent(phone) == [["signal", "step"]] * 2

    phone.wait_for_timeout(BOUNCE_MS)
    phone.get_by_role("button", name="It does not turn").tap()
    assert sent(phone)[2:] == [["signal", "cannot"]]


def test_a_click_of_a_mouse_beside_the_buttons_is_nothing(page: Page) -> None:
    """Only a finger taps blindly."""
    show(page, level(-20.0, -20.0, gauge="step and fit"))

    page.locator(".needle").click()

    assert sent(page) == []


def test_what_was_still_on_its_way_when_the_person_finished_is_not_drawn(page: Page) -> None:
    """The area says that it is finished, and stays so until something else is to be done."""
    show(page, guidance(error=20.0, word="done"))
    press(page)
    expect(page.locator(".now__idle")).to_contain_text("Finished.")

    show(page, guidance(error=20.0, word="done"))
    page.wait_for_timeout(100)

    expect(page.locator(".now__body")).to_be_hidden()
    ask(page, question(9))
    expect(page.locator(".question__text")).to_be_visible()
