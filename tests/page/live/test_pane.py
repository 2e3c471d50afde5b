"""The live area by itself: what it shows of the guidance, and what it asks."""

import re

import pytest
from playwright.sync_api import Page, expect

from tests.page.conftest import Fake, OpenContext
from tests.page.fake_live import ask, guidance, level, open_harness, question, sent, show
from tests.page.fake_service import Json
from tests.page.live.press import press
from tests.page.reach import PHONE, RULES, no_sideways_scroll, serious_findings

READ_FIRST_MS = 600
"""Longer than a question must have stood before a press answers it."""

MINUS = "\N{MINUS SIGN}"


def centre(page: Page, selector: str) -> float:
    """Give the middle of an element from left to right, in pixels."""
    box = page.locator(selector).bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2


def along_the_track(page: Page, selector: str) -> float:
    """Give where an element stands on the needle's track: 0 at the left end, 1 at the right."""
    page.wait_for_timeout(200)
    track = page.locator(".needle__track").bounding_box()
    assert track is not None
    return (centre(page, selector) - track["x"]) / track["width"]


# What it shows.


def test_the_word_the_way_and_how_far_stand_there_in_words(page: Page) -> None:
    """So that nobody needs a colour to know them."""
    show(page, guidance())

    area = page.get_by_role("region", name="Live")
    expect(area.get_by_role("heading", name="T2 secondary")).to_be_visible()
    for words in ("turn", "anticlockwise", "⅜ turn", "Too high by", "340", "± 24", "nearer"):
        expect(area.get_by_text(words, exact=True).first).to_be_visible()
    expect(area).to_contain_text("The can is centred 340 Hz too high")


@pytest.mark.parametrize(
    ("word", "way", "shown"),
    [
        ("turn back", "clockwise", "clockwise"),
        ("past it", "anticlockwise", "anticlockwise"),
        ("turn", None, "on, the same way"),
        ("turn back", None, "the other way"),
        ("hold", None, ""),
        ("done", None, ""),
        ("wait", None, ""),
    ],
)
def test_every_word_looks_different_without_its_colour(page: Page, word: str, way: str | None, shown: str) -> None:
    """By its own letters, the way in letters, and the ring's own shape."""
    show(page, guidance(word=word, way=way))

    expect(page.locator(".now__word")).to_have_text(word)
    expect(page.locator(".now__way")).to_have_text(shown)
    drawn = page.locator(".ring__arc").get_attribute("d") or page.locator(".ring__sign").get_attribute("d")
    assert drawn


def test_the_arrow_goes_round_the_way_that_is_said(page: Page) -> None:
    """An SVG arc drawn with the sweep flag 1 goes clockwise (SVG 2, 9.3.8)."""
    for way, flag in (("clockwise", "1"), ("anticlockwise", "0")):
        show(page, guidance(way=way))
        expect(page.locator(".ring__arc")).to_have_attribute("d", re.compile(rf"A40 40 0 [01] {flag} "))


@pytest.mark.parametrize(("error", "place"), [(0.0, 0.5), (1000.0, 0.75), (-1500.0, 0.125), (150.0, 0.5375)])
def test_the_needle_stands_where_the_error_is_on_its_scale(page: Page, error: float, place: float) -> None:
    """The target in the middle; the end stands for the full scale of 2000 Hz."""
    show(page, guidance(error=error))

    assert along_the_track(page, ".needle__mark") == pytest.approx(place, abs=0.01)


def test_beyond_its_scale_the_needle_points_out_of_it(page: Page) -> None:
    """It stays in sight at the end, in another shape."""
    show(page, guidance(error=9000.0))
    assert along_the_track(page, ".needle__mark") == pytest.approx(0.985, abs=0.01)
    expect(page.locator(".needle")).to_have_attribute("data-beyond", "1")

    show(page, guidance(error=-9000.0))
    assert along_the_track(page, ".needle__mark") == pytest.approx(0.015, abs=0.01)
    expect(page.locator(".needle")).to_have_attribute("data-beyond", "-1")


def test_the_good_zone_is_drawn_as_wide_as_it_is(page: Page) -> None:
    """150 Hz either side on a scale of 2000 Hz either side."""
    show(page, guidance())

    zone, track = (page.locator(each).bounding_box() for each in (".needle__zone", ".needle__track"))
    assert zone is not None
    assert track is not None
    assert zone["width"] / track["width"] == pytest.approx(150 / 2000, abs=0.01)
    assert along_the_track(page, ".needle__zone") == pytest.approx(0.5, abs=0.005)


def test_towards_a_peak_the_best_is_held_while_the_level_falls(page: Page) -> None:
    """And how far below it the level is now stands beside it."""
    show(page, level(-12.0, -12.0))
    best = along_the_track(page, ".needle__best")
    assert along_the_track(page, ".needle__mark") == pytest.approx(best, abs=0.02)

    show(page, level(-14.1, -12.0, word="past it", target=-12.0, error=-2.1))

    expect(page.locator(".now__way")).to_have_text("the other way")
    assert along_the_track(page, ".needle__best") == pytest.approx(best, abs=0.001)
    assert along_the_track(page, ".needle__mark") < best - 0.2
    expect(page.locator(".now__figures")).to_contain_text(f"Best so far{MINUS}12.0 dB")
    expect(page.locator(".now__figures")).to_contain_text("Below the best2.1 dB")


def test_towards_a_target_the_closest_so_far_is_held_while_the_error_grows(page: Page) -> None:
    show(page, guidance(error=400.0, closest=-100.0))

    figures = page.locator(".now__figures")
    expect(figures).to_contain_text(f"Closest so far{MINUS}100 Hz")
    expect(figures).to_contain_text("Farther off by300 Hz")


def test_only_what_has_changed_is_drawn_again(page: Page) -> None:
    """The same guidance twice touches nothing."""
    show(page, guidance())
    page.wait_for_timeout(200)
    changes = page.evaluate(
        """async (told) => {
            let count = 0;
            const seen = new MutationObserver((records) => (count += records.length));
            const options = { subtree: true, childList: true, attributes: true, characterData: true };
            seen.observe(document.querySelector(".now"), options);
            for (let turn = 0; turn < 5; turn += 1) {
                pane.show(told);
                await new Promise(requestAnimationFrame);
            }
            await new Promise((done) => setTimeout(done, 50));
            return count;
        }""",
        guidance(),
    )

    assert changes == 0


def test_screen_readers_are_told_now_and_then_and_not_each_reading(page: Page) -> None:
    """Forty readings in two seconds come to one or two sentences."""
    page.evaluate(
        """() => {
            window.spoken = [];
            const status = document.querySelector(".live [role=status]");
            const seen = new MutationObserver(() => spoken.push(status.textContent));
            seen.observe(status, { childList: true, characterData: true, subtree: true });
        }"""
    )
    for reading in range(40):
        show(page, guidance(error=340.0 - reading))
        page.wait_for_timeout(50)

    spoken = page.evaluate("spoken")
    assert 1 <= len(spoken) <= 2
    assert spoken[0] == "T2 secondary: Turn, anticlockwise; ⅜ turn to go; Too high by 340 Hz."


def test_guidance_that_stops_is_told_to_be_old(page: Page) -> None:
    """And so is all that was shown when the service is lost."""
    page.clock.install()
    show(page, guidance())
    page.clock.run_for(1000)
    expect(page.locator(".now__old")).to_be_hidden()
    page.clock.run_for(7000)
    expect(page.locator(".now__old")).to_contain_text("these figures are old")

    show(page, guidance())
    page.clock.run_for(100)
    expect(page.locator(".now__old")).to_be_hidden()
    page.evaluate("pane.lost()")
    page.clock.run_for(100)
    expect(page.locator(".now__old")).to_contain_text("The service is out of reach.")


# Questions.


def test_a_turn_that_is_asked_for_is_drawn_and_answered_by_the_key(page: Page) -> None:
    """Large words, the ring with the way, and big answers."""
    ask(page, question(7))
    expect(page.locator(".question")).to_contain_text("Turn T2 secondary 3/8 turn clockwise.")
    expect(page.locator(".question .ring__arc")).to_have_attribute("d", re.compile(r"A40 40 0 \d 1 "))
    page.wait_for_timeout(READ_FIRST_MS)

    press(page)

    assert sent(page) == [["answer", 7, "done"]]


def test_a_question_is_answered_once(page: Page) -> None:
    """Further presses do nothing until the service has taken the answer and asks the next."""
    ask(page, question(7))
    page.wait_for_timeout(READ_FIRST_MS)
    press(page)
    press(page)
    page.get_by_role("button", name="Done").click(force=True)
    assert sent(page) == [["answer", 7, "done"]]

    ask(page, question(8))
    page.wait_for_timeout(READ_FIRST_MS)
    page.get_by_role("button", name="It does not turn").click()

    assert sent(page) == [["answer", 7, "done"], ["answer", 8, "cannot"]]


def test_a_press_meant_for_something_else_does_not_answer_a_question_that_has_just_come(page: Page) -> None:
    """It was on its way before the question could be read."""
    ask(page, question(7))
    page.keyboard.press("Space")
    assert sent(page) == []

    page.wait_for_timeout(READ_FIRST_MS)
    press(page)

    assert sent(page) == [["answer", 7, "done"]]


def test_the_key_cannot_choose_among_answers(page: Page) -> None:
    """It takes the eye to them; Tab and Enter choose."""
    ask(page, question(9, "choose", answers=["rose", "fell", "silent"], detail={}))
    page.wait_for_timeout(READ_FIRST_MS)
    press(page)
    expect(page.get_by_role("button", name="Rose")).to_be_focused()
    assert sent(page) == []

    page.keyboard.press("Tab")
    press(page, "Enter")

    assert sent(page) == [["answer", 9, "fell"]]


def test_step_and_fit_shows_where_it_stands_beside_the_turn_it_asks_for(page: Page) -> None:
    """The levels so far, the best held, and the question with its answers under them."""
    show(page, level(-14.0, -12.0, gauge="step and fit", way="clockwise", turns_left=0.125))
    ask(page, question(7, detail={"turns": 0.125, "unit": "turns"}, text="Turn T2 secondary 1/8 turn clockwise."))

    expect(page.locator(".needle")).to_have_attribute("data-kind", "peak")
    expect(page.locator(".now__word")).to_have_text("turn")
    expect(page.locator(".question__text")).to_have_text("Turn T2 secondary 1/8 turn clockwise.")
    expect(page.get_by_role("button", name="One nudge made")).to_be_hidden()
    page.wait_for_timeout(READ_FIRST_MS)
    press(page)
    assert sent(page) == [["answer", 7, "done"]]
    ask(page, None)
    expect(page.locator(".now__idle")).to_be_visible()
    expect(page.locator(".now__body")).to_be_hidden()


def test_taking_hold_of_an_adjuster_is_answered_with_ready(page: Page) -> None:
    """Live guidance begins with it."""
    ask(page, question(7, "adjust", text="Take hold of T2 secondary.", answers=["ready", "cannot"], detail={}))
    expect(page.get_by_role("heading", name="T2 secondary")).to_be_visible()
    expect(page.get_by_role("button", name="Do it for me")).to_have_count(0)
    page.wait_for_timeout(READ_FIRST_MS)

    press(page)

    assert sent(page) == [["answer", 7, "ready"]]


def test_leads_are_listed_with_the_cautions_first(page: Page) -> None:
    """Before anything is touched."""
    lead = {"to": "third mixer", "through": "10 nF, 400 V"}
    detail = {
        "source": lead,
        "meter": {"to": "detector", "through": None},
        "controls": {"selectivity": "2 kHz"},
        "cautions": ["Chassis voltages up to 210 V."],
    }
    ask(page, question(3, "connect", text="Power off. Connect the leads.", answers=["done"], detail=detail))

    told = page.locator(".question").inner_text()
    assert told.index("Chassis voltages up to 210 V.") < told.index("Power off.") < told.index("through 10 nF, 400 V")
    expect(page.locator(".question .leads")).to_contain_text("Setselectivity 2 kHz")


def test_on_the_practice_bench_hands_can_do_what_is_asked(page: Page) -> None:
    """Except where the person is to choose."""
    ask(page, question(7))
    page.wait_for_timeout(READ_FIRST_MS)
    page.get_by_role("button", name="Do it for me").click()
    assert sent(page) == [["do", 7]]

    ask(page, question(8, "choose", answers=["rose", "fell"]))

    expect(page.get_by_role("button", name="Rose")).to_be_visible()
    expect(page.get_by_role("button", name="Do it for me")).to_have_count(0)


def test_a_refusal_stands_under_the_buttons_and_the_answer_can_be_given_again(page: Page) -> None:
    """In the service's own sentence."""
    ask(page, question(7))
    page.evaluate("refuse = 'Another page operates this bench.'")
    page.wait_for_timeout(READ_FIRST_MS)
    page.get_by_role("button", name="Done").click()
    expect(page.locator(".live__hint")).to_have_text("Another page operates this bench.")

    page.evaluate("refuse = null")
    page.get_by_role("button", name="Done").click()

    assert len(sent(page)) == 2
    expect(page.locator(".live__hint")).to_be_empty()


def test_a_page_that_watches_has_nothing_to_press(page: Page) -> None:
    """It sees the same."""
    page.evaluate("pane.operate(false)")
    show(page, guidance())
    expect(page.locator(".now__word")).to_have_text("turn")
    expect(page.get_by_role("button", name="Finished")).to_be_hidden()
    press(page)
    ask(page, question(7))
    expect(page.locator(".question")).to_contain_text("The page that operates the bench answers this.")
    page.wait_for_timeout(READ_FIRST_MS)
    press(page)

    assert sent(page) == []
    expect(page.locator(".live__hint")).to_contain_text("Another page operates the bench")


# For everybody.

SHOWN: dict[str, Json] = {
    "turn": guidance(),
    "turn back": guidance(error=-2600.0, word="turn back", way="clockwise", turns_left=1.25),
    "hold": guidance(error=20.0, word="hold", way=None, turns_left=None),
    "peak": level(-14.1, -12.0, word="past it", way="clockwise"),
}


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("size", ["laptop", "phone"])
def test_an_accessibility_checker_finds_nothing_serious(
    new_context: OpenContext, fake: Fake, scheme: str, size: str
) -> None:
    """Each word, the questions, the settings and the loss, by axe-core's WCAG 2.2 AA rules."""
    assert "wcag22aa" in RULES
    context = new_context(color_scheme=scheme, reduced_motion="reduce", **(PHONE if size == "phone" else {}))
    page = open_harness(context.new_page(), fake.address)
    page.get_by_text("Tones and step key").click()
    found = []
    for told in SHOWN.values():
        show(page, told)
        page.wait_for_timeout(100)
        found += serious_findings(page)
    show(page, guidance())
    press(page)
    found += serious_findings(page)
    page.evaluate("pane.lost()")
    page.wait_for_timeout(100)
    found += serious_findings(page)
    ask(page, question(7))
    page.wait_for_timeout(100)
    found += serious_findings(page)

    assert found == []


@pytest.mark.parametrize("name", list(SHOWN))
def test_on_a_phone_the_word_the_needle_and_the_figure_are_in_sight_together(phone: Page, name: str) -> None:
    """Without scrolling any way."""
    show(phone, SHOWN[name])

    for part in (".now__adjuster", ".now__word", ".ring", ".needle__track", ".figure__value"):
        expect(phone.locator(part).first).to_be_in_viewport(ratio=1)
    assert no_sideways_scroll(phone)
    word, frame = (phone.locator(each).bounding_box() for each in (".now__word", ".now__order"))
    assert word is not None
    assert frame is not None
    assert word["x"] + word["width"] <= frame["x"] + frame["width"]


def test_the_word_can_be_read_from_two_metres_on_a_phone(phone: Page) -> None:
    """Normal sight resolves letters of 5 minutes of arc (ISO 8596), 2.9 mm at 2 m; twice that is asked for here.

    The phone is 360 pixels and about 65 mm wide: common practice, no source. Capitals stand 0.7 of the type's size.
    """
    show(phone, SHOWN["turn back"])

    size = float(phone.evaluate("parseFloat(getComputedStyle(document.querySelector('.now__word')).fontSize)"))
    assert size * 0.7 * 65 / 360 > 2 * 2.9


def test_large_fills_the_window_below_the_strip(page: Page) -> None:
    """For a screen that is propped up beside the receiver; the strip with Output off stays."""
    page.evaluate("document.documentElement.style.setProperty('--top', '80px')")
    show(page, guidance())

    page.get_by_role("button", name="Large").click()

    box = page.locator(".live").bounding_box()
    assert box is not None
    assert (box["x"], box["y"], box["width"], box["height"]) == (0, 80, 1280, 820)
    page.get_by_role("button", name="Large").click()
    expect(page.locator(".live")).to_have_attribute("data-large", "no")


def test_nothing_moves_by_itself_where_motion_is_not_wanted(page: Page) -> None:
    """The mark then jumps to its place."""
    page.emulate_media(reduced_motion="reduce")
    show(page, guidance())

    assert page.evaluate("getComputedStyle(document.querySelector('.needle__mark')).transitionDuration") == "0s"


def test_with_forced_colours_the_needle_and_its_zone_can_still_be_seen(page: Page) -> None:
    """They are drawn in the system's own colours."""
    page.emulate_media(forced_colors="active")
    show(page, guidance())
    page.wait_for_timeout(200)

    colours = page.evaluate(
        """[".needle__mark", ".needle__track"].map(
            (each) => getComputedStyle(document.querySelector(each)).backgroundColor)"""
    )
    assert colours[0] != colours[1]
