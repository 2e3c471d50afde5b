"""A can adjusted over HTTP on the practice bench: questions answered, slugs turned, all by the page's own requests."""

import json
import socket
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.bench.practice_page import PracticePage, practice_page
from tests.bench.test_if_can import TURNS_TO_A_TENTH
from tests.server.benches import eventually
from tests.server.technician import up_to

CAN, MILLRACE = "filter-can-2", "millrace-5"
PRIMARY, SECONDARY = "can 2 primary", "can 2 secondary"
OSCILLATOR, SLUG = "beat-oscillator", "beat oscillator slug"


@pytest.fixture
def page(tmp_path: Path) -> Iterator[PracticePage]:
    """A practice bench of seed 5, as `tests/bench/test_if_can.py` has it: misaligned, with every part sound."""
    with practice_page(tmp_path / "practice.sqlite", seed=5) as started:
        yield started


def off_turns(page: PracticePage) -> float:
    """Give how far the worse slug of the can is from its best, by the simulator."""
    adjusters = page.truth()["adjusters"]
    return max(abs(float(adjusters[slug]["off_turns"])) for slug in (PRIMARY, SECONDARY))


def output(page: PracticePage) -> str:
    """Ask the source itself, on a socket of our own, whether its output is on."""
    _, host, port, _ = page.source_address.split("::")
    with socket.create_connection((host, int(port)), timeout=10) as link:
        lines = link.makefile("rw", newline="\n")
        lines.write("OUTP?\n")
        lines.flush()
        return lines.readline().strip()


def test_a_can_is_put_right_by_the_page_alone(page: PracticePage) -> None:
    """From as found to as left: its centre on 455 kHz by the simulator's truth, and the figures agree with that."""
    job = page.me.new_job(MILLRACE, serial="0042")
    page.me.leave_before(job, CAN)
    before = off_turns(page)

    page.me.begin(job, CAN)
    assert page.me.work(page.hands) is None

    state = page.me.state(job, CAN)
    truth = page.truth()["circuits"]["can 2"]
    assert state["ending"] == "within its limits"
    assert off_turns(page) < TURNS_TO_A_TENTH < before
    assert abs(truth["centre_hz"] - 455e3) < 0.05 * truth["width_3db_hz"]
    centre = next(one for one in state["as_left"] if one["name"] == "centre")
    assert abs(centre["value"] - truth["centre_hz"]) < 4 * centre["sigma"]
    assert [run["phase"] for run in state["runs"]] == ["as found", "adjust", "as left"]
    assert {one["adjuster"] for one in state["turned"]} == {PRIMARY, SECONDARY}
    assert output(page) == "0"
    assert page.me.bench()["session"] is None


def test_nothing_is_done_but_by_the_person(page: PracticePage) -> None:
    """Questions answered with done and nothing done leave the leads and slugs where they were."""
    job = page.me.new_job(MILLRACE)
    page.me.leave_before(job, CAN)
    before = page.me.get("/api/practice")

    page.me.begin(job, CAN)
    page.me.work(up_to(lambda asked: str(asked["answers"][0]), "choose"))

    after = page.me.get("/api/practice")
    assert after["leads"] == before["leads"]
    assert after["receiver"]["adjusters"] == before["receiver"]["adjusters"]


def test_do_it_for_me_does_what_is_asked(page: PracticePage) -> None:
    """Leads, controls and turns; and a choice takes what is proposed."""
    job = page.me.new_job(MILLRACE)
    page.me.leave_before(job, CAN)
    page.me.begin(job, CAN)
    while (asked := page.me.wait_for_question()) is not None:
        answer = page.me.post("/api/practice/do", {"number": asked["number"]})["answer"]
        assert answer in asked["answers"]

    assert page.me.state(job, CAN)["ending"] == "within its limits"
    assert off_turns(page) < TURNS_TO_A_TENTH
    made = {one["name"]: one["made_turns"] for one in page.me.get("/api/practice")["receiver"]["adjusters"]}
    turned = {one["adjuster"]: one["turns"] for one in page.me.state(job, CAN)["turned"]}
    assert made[PRIMARY] == pytest.approx(turned[PRIMARY])
    assert made[SECONDARY] == pytest.approx(turned[SECONDARY])
    assert made["can 1 primary"] == 0.0


def test_a_question_is_done_only_while_it_stands(page: PracticePage) -> None:
    """A stale press turns nothing."""
    job = page.me.new_job(MILLRACE)
    page.me.leave_before(job, CAN)
    page.me.begin(job, CAN)
    asked = page.me.wait_for_question()
    assert asked is not None

    assert "no longer stands" in page.me.refused("/api/practice/do", {"number": asked["number"] - 1}, status=409)


def test_an_oscillator_is_brought_in_live(page: PracticePage) -> None:
    """The technician turns as the guidance says, by little pushes, and says done when it says done."""
    job = page.me.new_job("skerry-7")
    page.me.leave_before(job, OSCILLATOR)
    page.me.begin(job, OSCILLATOR, turning="live")
    adjust = page.me.work(up_to(page.hands, "adjust"))
    assert adjust is not None
    number = page.service.feed.last
    page.me.answer(adjust["number"], "ready")
    _turn_as_guided(page, number)
    assert page.me.work(page.hands) is None

    state = page.me.state(job, OSCILLATOR)
    assert state["ending"] == "within its limits"
    assert abs(page.truth()["oscillators"]["beat oscillator"] - 85e3) < 20.0
    assert state["turned"] == [{"adjuster": SLUG, "turns": None}]
    assert output(page) == "0"


def _turn_as_guided(page: PracticePage, after: int) -> None:
    """Read the stream, push the slug the way it says, look what came of it; signal done once it says so."""
    while True:
        event, after = _latest_guidance(page, after)
        if event["word"] == "done":
            assert page.me.send("POST", "/api/signal", {"signal": "done"})[0] == 204
            return
        if event["way"] is not None:
            turns = min(event["turns_left"] or 0.05, 0.25)
            sign = 1 if event["way"] == "clockwise" else -1
            page.me.post("/api/practice/turn", {"adjuster": event["adjuster"], "turns": sign * turns})
            after = page.service.feed.last


def _latest_guidance(page: PracticePage, after: int) -> tuple[dict[str, Any], int]:
    """Wait for two looks since a number, of which the first may have begun before the slug was turned."""

    def since() -> list[dict[str, Any]]:
        bodies = [json.loads(item.body) for item in page.service.feed.since(after).items if item.body]
        return [body["event"] for body in bodies if body.get("event", {}).get("kind") == "Guidance"]

    eventually(lambda: len(since()) > 1)
    return since()[-1], page.service.feed.last
