"""The practice bench under the page's hands: what is turned stays turned, for its own job, through a restart."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.bench.practice_page import PracticePage, practice_page
from tests.server.benches import eventually
from tests.server.technician import Technician, up_to

STEP, SLUG = "beat-oscillator", "beat oscillator slug"
SEED = 5


@pytest.fixture
def page(tmp_path: Path) -> Iterator[PracticePage]:
    """A practice bench that has just come up."""
    with practice_page(tmp_path / "practice.sqlite", seed=SEED) as started:
        yield started


def test_the_state_tells_leads_controls_and_turns_made(page: PracticePage) -> None:
    """As the hands have left them."""
    first = page.position(SLUG)
    assert page.me.post("/api/practice/turn", {"adjuster": SLUG, "turns": 0.25}) == {"moved_turns": pytest.approx(0.25)}
    page.me.post("/api/practice/turn", {"adjuster": SLUG, "turns": -0.125})
    page.me.post("/api/practice/set", {"control": "selectivity", "to": "3.2 kHz"})
    page.me.post("/api/practice/set", {"control": "dial", "to": 125.5})
    page.me.post("/api/practice/connect", {"role": "meter", "to": "agc line", "through": None})
    page.me.post("/api/practice/connect", {"role": "source", "to": None})

    state = page.me.get("/api/practice")
    slug = next(one for one in state["receiver"]["adjusters"] if one["name"] == SLUG)
    controls = {one["name"]: one["value"] for one in state["receiver"]["controls"]}
    assert slug["made_turns"] == pytest.approx(0.125)
    assert slug["position_turns"] == pytest.approx(first + 0.125)
    assert (controls["selectivity"], controls["dial"]) == ("3.2 kHz", 125.5)
    assert state["leads"]["meter"] == {"to": "agc line", "through": None}
    assert state["leads"]["source"]["to"] is None
    assert (state["seed"], state["job"]) == (SEED, None)
    assert {one["id"] for one in state["receivers"]} == {"skerry-7", "millrace-5"}


def test_what_hands_cannot_do_is_said_in_one_sentence(page: PracticePage) -> None:
    """What there is instead; a watcher's hands are not on the bench."""
    assert "no adjuster 'tea'" in page.me.refused("/api/practice/turn", {"adjuster": "tea", "turns": 1}, status=422)
    assert "no place" in page.me.refused("/api/practice/set", {"control": "agc", "to": "loud"}, status=422)
    assert "cannot be connected" in page.me.refused(
        "/api/practice/connect", {"role": "meter", "to": "antenna"}, status=422
    )
    assert "50.0 or less" in page.me.refused("/api/practice/turn", {"adjuster": SLUG, "turns": 51}, status=422)
    assert "has no receiver 'none'" in page.me.refused(
        "/api/practice/reseed", {"seed": 1, "receiver_id": "none"}, status=422
    )
    watcher = Technician(page.me.http, "two")
    assert "Another page" in watcher.refused("/api/practice/turn", {"adjuster": SLUG, "turns": 1}, status=409)


def test_another_seed_is_another_receiver(page: PracticePage) -> None:
    """Only while nothing is on; the new one belongs to no job."""
    job = page.me.new_job("skerry-7")
    page.me.leave_before(job, STEP)
    before = page.position(SLUG)
    page.me.begin(job, STEP)
    assert page.me.wait_for_question() is not None
    assert "is on; wait" in page.me.refused("/api/practice/reseed", {"seed": 9, "receiver_id": "skerry-7"}, status=409)
    page.me.post("/api/stop")
    page.me.wait_for_end()

    state = page.me.post("/api/practice/reseed", {"seed": 9, "receiver_id": "millrace-5"})

    assert (state["receiver"]["id"], state["seed"], state["job"]) == ("millrace-5", 9, None)
    second = page.me.new_job("skerry-7")
    assert page.position(SLUG) != before
    assert page.me.get(f"/api/jobs/{second}")["seed"] == 9
    assert page.me.get(f"/api/jobs/{job}")["seed"] == SEED


def test_a_new_job_puts_its_receiver_on_the_bench_as_it_was_left(page: PracticePage) -> None:
    """The same unit, with what was turned before."""
    page.me.new_job("skerry-7")
    page.me.post("/api/practice/turn", {"adjuster": SLUG, "turns": 0.5})
    turned = page.position(SLUG)
    page.me.new_job("millrace-5")
    assert page.me.get("/api/practice")["receiver"]["id"] == "millrace-5"

    again = page.me.new_job("skerry-7")

    assert page.me.get("/api/practice")["receiver"]["id"] == "skerry-7"
    assert page.me.get("/api/practice")["job"] == again
    assert page.position(SLUG) == turned


def test_each_job_goes_on_with_its_receiver_as_it_left_it(page: PracticePage) -> None:
    """Also where it stood on another unit, and where a job in between turned the same slug."""
    first = page.me.new_job("skerry-7")
    page.me.leave_before(first, STEP)
    page.me.begin(first, STEP)
    page.me.work(up_to(page.hands, "choose"))
    page.me.post("/api/practice/turn", {"adjuster": SLUG, "turns": 0.3})
    page.me.post("/api/stop")
    page.me.wait_for_end()
    left, leads = page.position(SLUG), page.me.get("/api/practice")["leads"]

    page.me.new_job("skerry-7")
    page.me.post("/api/practice/turn", {"adjuster": SLUG, "turns": 0.4})
    page.me.post("/api/practice/reseed", {"seed": 11, "receiver_id": "skerry-7"})

    page.me.begin(first, STEP)
    asked = page.me.wait_for_question()
    assert asked is not None
    assert asked["action"] == "choose"  # the leads stand, and are not asked for again
    assert page.position(SLUG) == pytest.approx(left)
    assert page.me.get("/api/practice")["leads"] == leads


def test_a_control_that_hands_moved_on_their_own_is_asked_for_again(page: PracticePage) -> None:
    """What stands is what really stands, not what was once answered."""
    step = "passband-third"
    job = page.me.new_job("skerry-7")
    page.me.leave_before(job, step)
    page.me.begin(job, step)
    page.me.work(up_to(page.hands, "choose"))
    page.me.post("/api/practice/set", {"control": "agc", "to": "fast"})
    page.me.post("/api/stop")
    page.me.wait_for_end()
    page.me.post(f"/api/jobs/{job}/steps/{step}/leave", {"reason": "Once more."})

    page.me.questions.clear()
    page.me.begin(job, step)
    page.me.work(up_to(page.hands, "choose"))

    asked = [(one["action"], one["subject"]) for one in page.me.questions]
    assert asked.count(("set", "agc")) == 1
    assert ("connect", "leads") not in asked
    controls = {one["name"]: one["value"] for one in page.me.get("/api/practice")["receiver"]["controls"]}
    assert controls["agc"] == "off"


def test_after_a_restart_the_receiver_stands_where_it_was_left(tmp_path: Path) -> None:
    """Turned by many small pushes, as a hand does, live and between steps; and only what is new is asked."""
    store = tmp_path / "practice.sqlite"
    with practice_page(store, seed=SEED) as page:
        job = page.me.new_job("skerry-7")
        page.me.leave_before(job, STEP)
        page.me.begin(job, STEP)
        page.me.work(up_to(page.hands, "turn"))
        for _ in range(20):
            page.me.post("/api/practice/turn", {"adjuster": SLUG, "turns": 0.01})
        page.me.post("/api/stop")
        page.me.wait_for_end()
        page.me.post("/api/practice/turn", {"adjuster": "T1 primary", "turns": -1.5})
        left = {name: page.position(name) for name in (SLUG, "T1 primary")}
        controls = page.me.get("/api/practice")["receiver"]["controls"]

    with practice_page(store, seed=SEED + 1) as page:
        assert page.position(SLUG) != pytest.approx(left[SLUG])
        page.me.begin(job, STEP)
        asked = page.me.wait_for_question()
        assert asked is not None
        assert asked["action"] != "set"
        assert {name: page.position(name) for name in left} == pytest.approx(left)
        assert page.me.get("/api/practice")["receiver"]["controls"] == controls
        page.me.questions.clear()
        assert page.me.work(page.hands) is None
        assert page.me.state(job, STEP)["ending"] == "within its limits"
        assert abs(page.truth()["oscillators"]["beat oscillator"] - 85e3) < 20.0


def test_a_restart_with_the_same_seed_shows_the_receiver_as_it_was_left(tmp_path: Path) -> None:
    """At once, before any step is begun; a job that is done leaves it to a fresh start."""
    store = tmp_path / "practice.sqlite"
    with practice_page(store, seed=SEED) as page:
        first = page.position(SLUG)
        job = page.me.new_job("skerry-7")
        page.me.post("/api/practice/turn", {"adjuster": SLUG, "turns": 0.4})
        left = page.position(SLUG)
    with practice_page(store, seed=SEED) as page:
        eventually(lambda: page.me.get("/api/practice")["job"] == job)
        assert page.position(SLUG) == pytest.approx(left)
        page.me.send("PATCH", f"/api/jobs/{job}", {"state": "done"})
    with practice_page(store, seed=SEED) as page:
        assert page.position(SLUG) == pytest.approx(first)


def test_a_scan_in_between_moves_leads_that_the_step_puts_back(page: PracticePage) -> None:
    """Nobody is asked: these hands are the program's own."""
    job = page.me.new_job("skerry-7")
    page.me.leave_before(job, STEP)
    page.me.begin(job, STEP)
    page.me.work(up_to(page.hands, "choose"))
    page.me.post("/api/stop")
    page.me.wait_for_end()
    leads = page.me.get("/api/practice")["leads"]

    target = "millrace-5-455-passband"
    targets = {one["id"]: one for one in page.me.get("/api/targets")}
    target = next(ident for ident, one in targets.items() if one["receiver"] == "Millrace 5")
    page.me.post("/api/scans", {"target": target, "readings": 8, "settle_s": 0, "detector": "linear"})
    page.service.worker.wait_until_idle(30.0)
    assert page.me.get("/api/practice")["receiver"]["id"] == "millrace-5"

    page.me.begin(job, STEP)
    asked = page.me.wait_for_question()
    assert asked is not None
    assert asked["action"] == "choose"
    assert page.me.get("/api/practice")["leads"] == leads
