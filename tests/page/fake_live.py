"""The live area and the practice panel, each alone on a page of the tests' own; what they ask for is kept in a list."""

import json
import re
from dataclasses import dataclass, field
from typing import Any

from playwright.sync_api import Page, Route

from tests.page.fake_service import PAGE, Json

STYLES = ("tokens", "layout", "controls", "bench", "scan", "live", "needle", "practice")

MOUNT_LIVE = """
import { LivePane } from "/page/modules/live/pane.js";
window.sent = [];
window.refuse = null;
const keep = async (...what) => {
  window.sent.push(what);
  if (window.refuse) throw new Error(window.refuse);
};
window.pane = new LivePane({
  signal: (signal) => keep("signal", signal),
  answer: (number, answer) => keep("answer", number, answer),
  doForMe: (number) => keep("do", number),
});
document.querySelector("main").append(window.pane.element);
"""

MOUNT_PRACTICE = """
import { createApi } from "/page/modules/shared/api.js";
import { practiceCalls } from "/page/modules/practice/calls.js";
import { PracticePanel } from "/page/modules/practice/panel.js";
window.panel = new PracticePanel(practiceCalls(createApi("test")));
document.querySelector("main").append(window.panel.element);
await window.panel.refresh();
"""


def open_harness(page: Page, address: str, script: str = MOUNT_LIVE) -> Page:
    """Open an otherwise empty page in the style of the real one, with one part mounted on it."""
    page.route("**/harness", lambda route: route.fulfill(body=_harness(script), content_type="text/html"))
    page.goto(f"{address}harness")
    page.wait_for_function("window.ready === true")
    return page


def _harness(script: str) -> str:
    symbols = re.search(r'<svg class="symbols".*?</svg>', (PAGE / "index.html").read_text(), re.DOTALL)
    assert symbols is not None
    links = "".join(f'<link rel="stylesheet" href="/page/style/{name}.css">' for name in STYLES)
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8"><title>Harness</title>'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f'<meta name="color-scheme" content="light dark">{links}</head><body>{symbols[0]}'
        '<main style="padding: 12px"><h1>Harness</h1><h2>One part</h2></main>'
        f'<script type="module">{script}; window.ready = true;</script></body></html>'
    )


def guidance(**changes: Any) -> Json:  # noqa: ANN401 - JSON
    """Guidance as the service gives it: an edge balance 340 Hz too high."""
    return {
        "kind": "Guidance",
        "time_s": 1.0,
        "adjuster": "T2 secondary",
        "gauge": "edge balance",
        "value": 340.0,
        "sigma": 12.0,
        "unit": "Hz",
        "target": 0.0,
        "within": 150.0,
        "error": 340.0,
        "full_scale": 2000.0,
        "best": None,
        "below_best": None,
        "trend": "nearer",
        "word": "turn",
        "way": "anticlockwise",
        "turns_left": 0.375,
        "sentence": "The can is centred 340 Hz too high; turn the slug out.",
        "closest": None,
        **changes,
    }


def level(value: float, best: float, **changes: Any) -> Json:  # noqa: ANN401 - JSON
    """Guidance towards a peak: only the best so far is known."""
    below = best - value
    return guidance(
        **{
            "gauge": "level",
            "unit": "dB",
            "value": value,
            "sigma": 0.05,
            "target": None,
            "error": None,
            "within": 0.2,
            "full_scale": 6.0,
            "best": best,
            "below_best": below,
            "way": None,
            "turns_left": None,
            **changes,
        }
    )


def question(number: int, action: str = "turn", **changes: Any) -> Json:  # noqa: ANN401 - JSON
    """Describe a question of the run."""
    return {
        "number": number,
        "action": action,
        "subject": "T2 secondary",
        "text": "Turn T2 secondary 3/8 turn clockwise. The can is centred 340 Hz too low.",
        "answers": ["done", "cannot"],
        "detail": {"turns": 0.375, "unit": "turns"},
        **changes,
    }


def show(page: Page, told: Json) -> None:
    """Give the live area one event of guidance."""
    page.evaluate("(told) => pane.show(told)", told)


def ask(page: Page, asked: Json | None) -> None:
    """Let a question stand, or none."""
    page.evaluate("(asked) => pane.ask(asked)", asked)


def sent(page: Page) -> list[list[Any]]:
    """List what the live area has asked for so far."""
    return list(page.evaluate("window.sent"))


@dataclass
class FakePractice:
    """A practice bench that turns whatever it is told to, as far as it goes."""

    seed: int = 3
    receiver: str = "skerry-7"
    limit_turns: float = 6.0
    positions: dict[str, float] = field(default_factory=lambda: {"T2 primary": 0.61, "T2 secondary": -0.88, "L1": 0.13})
    controls: dict[str, Any] = field(default_factory=lambda: {"selectivity": "1.6 kHz", "dial": 250.0})
    leads: dict[str, Json] = field(
        default_factory=lambda: {
            "source": {"to": "third mixer", "through": None},
            "meter": {"to": "detector", "through": None},
            "counter": {"to": None, "through": None},
        }
    )
    asked: list[tuple[str, Json]] = field(default_factory=list)

    def join(self, page: Page) -> None:
        """Answer what a page asks of the practice bench."""
        page.route("**/api/practice", lambda route: route.fulfill(json=self.describe()))
        page.route("**/api/practice/*", self._answer)

    def describe(self) -> Json:
        """Describe the bench as the service does."""
        return {
            "receivers": [{"id": "skerry-7", "name": "Skerry 7"}, {"id": "millrace-5", "name": "Millrace 5"}],
            "receiver": {
                "id": self.receiver,
                "name": "Skerry 7" if self.receiver == "skerry-7" else "Millrace 5",
                "points": {
                    "source": ["antenna", "third mixer"],
                    "meter": ["detector", "agc line"],
                    "counter": ["third oscillator"],
                },
                "controls": [
                    {"name": "selectivity", "choices": ["1.6 kHz", "3.2 kHz"], "value": self.controls["selectivity"]},
                    {"name": "dial", "low": 0.0, "high": 500.0, "unit": "kHz", "value": self.controls["dial"]},
                ],
                "adjusters": [
                    {
                        "name": name,
                        "kind": "slug",
                        "unit": "turn",
                        "travel_turns": 2 * self.limit_turns,
                        "position_turns": position,
                        "factory_only": name == "L1",
                    }
                    for name, position in self.positions.items()
                ],
            },
            "leads": self.leads,
            "seed": self.seed,
        }

    def _answer(self, route: Route) -> None:
        what = route.request.url.rsplit("/", 1)[1]
        body = json.loads(route.request.post_data or "{}")
        self.asked.append((what, body))
        answers = {"turn": self._turn, "set": self._set, "connect": self._connect, "reseed": self._reseed}
        if what == "truth":
            route.fulfill(json={"receiver": self.receiver, "adjusters": {"T2 secondary": {"off_turns": -1.1}}})
        else:
            route.fulfill(json=answers[what](body))

    def _turn(self, body: Json) -> Json:
        name = body["adjuster"]
        wanted = self.positions[name] + body["turns"]
        stands = max(-self.limit_turns, min(self.limit_turns, wanted))
        moved = stands - self.positions[name]
        self.positions[name] = stands
        return {"moved_turns": moved}

    def _set(self, body: Json) -> Json:
        self.controls[body["control"]] = body["to"]
        return {}

    def _connect(self, body: Json) -> Json:
        self.leads[body["role"]] = {"to": body["to"], "through": body["through"]}
        return {}

    def _reseed(self, body: Json) -> Json:
        self.seed, self.receiver = body["seed"], body["receiver_id"]
        return {}
