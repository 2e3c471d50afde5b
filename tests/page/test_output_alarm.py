"""The source may be on and did not confirm otherwise: the page says so larger than anything else, and sounds."""

from playwright.sync_api import Page, expect

from tests.page.conftest import Fake, OpenContext
from tests.page.reach import PHONE, no_sideways_scroll, serious_findings

TEXT = "The source at TCPIP::192.0.2.10::5025::SOCKET may still be on. Switch its output off at the instrument."

LARGEST_ELSEWHERE_PX = """() => Math.max(...[...document.querySelectorAll("body *")]
    .filter((each) => !each.closest("#output-alarm") && each.checkVisibility() && each.textContent.trim() !== "")
    .map((each) => parseFloat(getComputedStyle(each).fontSize)))"""

SIZE_PX = "(element) => parseFloat(getComputedStyle(element).fontSize)"

COUNT_SIRENS = """() => {
    window.sirens = [];
    const Real = window.AudioContext;
    window.AudioContext = class extends Real {
        constructor(...options) { super(...options); window.sirens.push(this); }
    };
}"""


def alarm(fake: Fake, *, on: bool) -> None:
    """Let every page know."""
    fake.bench.output_alarm = {"since_utc": "2026-11-30T20:00:00.000Z", "text": TEXT} if on else None
    fake.bench.change()


def test_it_is_larger_than_anything_else_and_goes_when_the_source_has_confirmed(page: Page, fake: Fake) -> None:
    """With what to do; the end of it is announced."""
    alarm(fake, on=True)
    word = page.get_by_role("heading", name="Output may be on")
    expect(word).to_be_visible()
    expect(page.get_by_role("alert").filter(has=word)).to_contain_text(TEXT)
    assert word.evaluate(SIZE_PX) > page.evaluate(LARGEST_ELSEWHERE_PX)
    assert serious_findings(page) == []

    alarm(fake, on=False)
    expect(word).to_have_count(0)
    expect(page.locator("#announcer")).to_have_text("The source has confirmed that its output is off.")


def test_it_sounds_until_it_is_silenced_or_over(page: Page, fake: Fake) -> None:
    """One siren, by the audio context's own word."""
    page.evaluate(COUNT_SIRENS)
    page.keyboard.press("Shift")  # browsers let a page sound once it has been touched
    alarm(fake, on=True)
    page.wait_for_function("() => window.sirens.length === 1 && window.sirens[0].state === 'running'")

    page.get_by_role("button", name="Silence the siren").click()

    page.wait_for_function("() => window.sirens[0].state === 'closed'")
    expect(page.get_by_role("heading", name="Output may be on")).to_be_visible()


def test_a_phone_shows_it_whole(new_context: OpenContext, fake: Fake) -> None:
    """Beside the set, where the hands are."""
    phone = new_context(**PHONE).new_page()
    phone.goto(fake.address)
    alarm(fake, on=True)
    word = phone.get_by_role("heading", name="Output may be on")

    expect(word).to_be_in_viewport(ratio=1)
    assert word.evaluate(SIZE_PX) > phone.evaluate(LARGEST_ELSEWHERE_PX)
    no_sideways_scroll(phone)
