"""Someone at the page who knows nothing but what it shows and sounds, and has only its knobs, buttons and keys."""

import re
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from playwright.sync_api import Page, expect

from tests.page.reach import tab_to

LONGEST_MS = 120_000
"""How long one part of a step may take on a busy machine, with the practice bench many times as fast as a real one."""

READ_FIRST_MS = 500
"""A question is read before it is answered."""

LOOK_MS = 120
"""From one look at the needle to the next."""

MOST_LOOKS = 1500

LOOK = """() => {
    const live = document.querySelector(".live");
    if (live === null) return { state: "none" };
    const text = (selector) => live.querySelector(selector)?.innerText.trim() ?? "";
    return {
        state: live.dataset.state,
        word: live.querySelector(".now__word").textContent,
        way: text(".now__way"),
        adjuster: text(".now__adjuster"),
        figure: (/low|Below/.test(text(".now__main dt")) ? "-" : "") + text(".figure__value"),
        turns: live.querySelector(".now .ring__text").textContent,
        beyond: live.querySelector(".needle").dataset.beyond,
        question: text(".question__text"),
        answers: [...live.querySelectorAll(".question__answers button")].map((each) => each.innerText),
    };
}"""
"""What a person takes in at one glance, and hears."""

KEEP_SOUND = """
window.oscillators = [];
const made = window.OscillatorNode;
window.OscillatorNode = class extends made {
    constructor(...given) { super(...given); window.oscillators.push(this); }
};
"""
"""Keeps the oscillators of the page's audio graph, so that what sounds can be read back from the graph itself."""


def listen(page: Page) -> list[float]:
    """Read the pitches of the page's oscillators: the octave, the steady tone, the error tone."""
    return list(page.evaluate("oscillators.slice(-3).map((each) => each.frequency.value)"))


def open_step(page: Page, address: str, receiver: str, step: str) -> None:
    """Start a job on a receiver by the page, leave the warm-up as it is, and open a step."""
    page.goto(f"{address}#/jobs/new")
    page.locator("#new-receiver").select_option(label=receiver)
    page.get_by_role("button", name="Start the job").click()
    page.wait_for_url(re.compile(r"#/jobs/\d+$"))
    job = page.url
    page.goto(f"{job}/warm-up")
    page.get_by_text("Leave this step as it is").click()
    page.get_by_label("Why it is left as it is").fill("It has been on all morning.")
    page.get_by_role("button", name="Leave the step").click()
    expect(page.locator("body")).to_contain_text("It has been on all morning.")
    page.goto(f"{job}/{step}")
    expect(page.get_by_role("button", name="Start", exact=True)).to_have_attribute("aria-disabled", "false")


@dataclass
class PageHands:
    """Does what the page says, by its knobs; `told` is what it asked, `heard` the error shown and both tones.

    `finger`: the step key is a tap on the live area, as on a phone, and not the space bar.
    """

    page: Page
    finger: bool = False
    told: list[str] = field(default_factory=list)
    heard: list[tuple[float, float, float]] = field(default_factory=list)
    words: list[str] = field(default_factory=list)
    side: int = 1
    last_word: str = ""

    def look(self) -> dict[str, Any]:
        """Take one glance."""
        return dict(self.page.evaluate(LOOK))

    def work(self, until: str = "none") -> None:
        """Go on until the live area is in a state: `live`, `asked`, or gone with the step."""
        for _ in range(MOST_LOOKS):
            seen = self.look()
            if seen["state"] == until:
                return
            if seen["state"] == "asked":
                self._answer(seen)
            elif seen["state"] == "live":
                self._turn(seen)
            self.page.wait_for_timeout(LOOK_MS)
        message = f"nothing came of it: {seen}, {self.told}"
        raise AssertionError(message)

    def _answer(self, seen: dict[str, Any]) -> None:
        if self.told[-1:] == [seen["question"]] and not seen["answers"]:
            return
        self.told.append(seen["question"])
        self.page.wait_for_timeout(READ_FIRST_MS)
        if "Adjust" in seen["answers"]:
            self._choose("Adjust")
        elif seen["question"].startswith("Turn "):
            self._turn_as_told(seen["question"])
            self._step_key()
        elif "Do it for me" in seen["answers"]:
            self._choose("Do it for me")
        else:
            self._step_key()
        self._wait_for_another(seen["question"])

    def _wait_for_another(self, question: str) -> None:
        """An answered question goes away; the same words may come again."""
        said = self.page.locator(".question__text", has_text=question)
        self.page.wait_for_timeout(2 * LOOK_MS)
        for _ in range(20):
            if said.count() == 0 or said.locator("xpath=ancestor::*[@hidden]").count() > 0:
                return
            self.page.wait_for_timeout(LOOK_MS)

    def _step_key(self) -> None:
        if self.finger:
            self.page.locator(".now__adjuster:visible, .question__text:visible").first.tap()
        else:
            self.page.keyboard.press("Space")

    def _choose(self, answer: str) -> None:
        self.page.get_by_role("button", name=answer, exact=True).click()

    def _turn_as_told(self, question: str) -> None:
        """Read how far and which way, and press the knob's buttons as often as that takes."""
        found = re.match(r"Turn .*? (?:(\d+) )?(\d+/\d+|\d+(?:\.\d+)?) turns? (clockwise|anticlockwise)", question)
        assert found is not None, question
        turns = float(found[1] or 0) + float(Fraction(found[2]))
        self._press_knob(found[3], turns)

    def _press_knob(self, side: str, turns: float) -> None:
        steps = round(turns * 64)
        for size, worth in (("1", 64), ("⅛", 8), ("1/64", 1)):
            button = self.page.locator(f".live-pair .knob__buttons [aria-label$=': {side} {size}']")
            for _ in range(steps // worth):
                button.click()
            steps %= worth

    def _turn(self, seen: dict[str, Any]) -> None:
        """Turn a little by what is shown; press the key when it is done."""
        word = seen["word"]
        self._note(seen)
        if word == "done":
            self._step_key()
            self.page.wait_for_timeout(3 * LOOK_MS)
        if word not in {"turn", "turn back", "past it"}:
            self.last_word = word
            return
        if seen["way"] in {"clockwise", "anticlockwise"}:
            self.side = 1 if seen["way"] == "clockwise" else -1
        elif seen["way"] == "the other way" and self.last_word not in {"turn back", "past it"}:
            self.side = -self.side
        self.last_word = word
        near = seen["turns"] in {"", "< ⅛", "⅛"}
        self._press_knob("clockwise" if self.side > 0 else "anticlockwise", 1 / 64 if near else 1 / 16)

    def _note(self, seen: dict[str, Any]) -> None:
        self.words.append(seen["word"])
        figure = seen["figure"].replace("\N{MINUS SIGN}", "-").replace("\N{NARROW NO-BREAK SPACE}", "")
        if self.page.evaluate("window.oscillators?.length > 0") and re.fullmatch(r"[-+]?\d+(\.\d+)?", figure):
            _, steady_hz, error_hz = listen(self.page)
            self.heard.append((float(figure), steady_hz, error_hz))


class KeyboardHands(PageHands):
    """The same without a mouse and without a finger: Tab, Enter, the arrow keys and the space bar."""

    def _choose(self, answer: str) -> None:
        index = self.look()["answers"].index(answer)
        tab_to(self.page, f".question__answers button:nth-child({index + 1})", most=120)
        self.page.keyboard.press("Enter")

    def _press_knob(self, side: str, turns: float) -> None:
        tab_to(self.page, ".live-pair .knob__head", most=120)
        arrow = "ArrowRight" if side == "clockwise" else "ArrowLeft"
        steps = round(turns * 64)
        for key, count in ((arrow, steps // 8), (f"Shift+{arrow}", steps % 8)):
            for _ in range(count):
                self.page.keyboard.press(key)
