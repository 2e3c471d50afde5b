"""A step of an alignment run from the page, over a bench without a wire: an oscillator that the test turns."""

import json
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import update

from sequences.errors import InstrumentFault
from server.errors import StoreError
from server.records.tables import JobRow
from tests.server.benches import eventually
from tests.server.place import HZ_PER_TURN, NOMINAL_HZ, PICK_UP_MOVED, SLUG, STEP, Place
from tests.server.technician import Asked, Technician, up_to

DEAF_BELOW_HZ = 35.0
LONG_READING_S = 0.3
"""Nine of them make a run: long enough for a busy machine to interrupt it."""


def test_a_step_goes_from_as_found_to_as_left(place: Place) -> None:
    """Each run is a row of its own with its phase; the figures are those of the oscillator that the test turned."""
    job = place.job()
    found_hz = place.counter.frequency_hz - NOMINAL_HZ

    place.me.begin(job, STEP)
    assert place.me.work(place.hand) is None

    state = place.me.state(job, STEP)
    assert (state["ending"], state["verdict"], state["on"], state["way"]) == (
        "within its limits",
        "leave",
        False,
        "count directly",
    )
    error = [one for one in state["as_found"] if one["name"] == "frequency error"]
    assert error[0]["value"] == pytest.approx(found_hz, abs=4 * error[0]["sigma"])
    assert (error[0]["limit"], error[0]["standing"], error[0]["verdict"]) == (20.0, "beyond its limit", "adjust")
    left = [one for one in state["as_left"] if one["name"] == "frequency error"]
    left_hz = place.counter.frequency_hz - NOMINAL_HZ
    assert left[0]["value"] == pytest.approx(left_hz, abs=4 * left[0]["sigma"])
    assert abs(left_hz) < 20.0
    assert [(run["phase"], run["way"], run["ending"]) for run in state["runs"]] == [
        (phase, "count directly", "completed") for phase in ("as found", "adjust", "as left")
    ]
    assert [one["adjuster"] for one in state["turned"]] == [SLUG]
    assert state["turned"][0]["turns"] == pytest.approx(-(left_hz - found_hz) / HZ_PER_TURN)
    assert place.bench.source.output_on is False
    bench = place.me.bench()
    assert (bench["session"], bench["busy_run"], bench["output_on"], bench["last_error"]) == (None, None, False, None)


def test_by_ear_each_run_goes_on_from_what_the_one_before_told(place: Place) -> None:
    """No note below 35 Hz is heard; after as found, nothing is looked for as if nothing were known."""
    job = place.job()
    asked: Counter[str] = Counter()

    def listen(question: Asked) -> str:
        if question["subject"] != "beat note":
            return place.hand(question)
        asked[place.me.bench()["session"]["phase"]] += 1
        from_hz, note_hz = (abs(question["detail"][end] - place.counter.frequency_hz) for end in ("from_hz", "to_hz"))
        if note_hz < DEAF_BELOW_HZ:
            return "silent"
        return "rose" if note_hz > from_hz else "fell"

    place.me.begin(job, STEP, way="by ear")
    assert place.me.work(listen) is None

    state = place.me.state(job, STEP)
    assert (state["ending"], state["way"]) == ("within its limits", "by ear")
    assert abs(place.counter.frequency_hz - NOMINAL_HZ) < 20.0
    assert asked["as left"] <= 5 < asked["as found"]
    assert asked.total() <= 28


def test_figures_are_found_over_the_years(place: Place) -> None:
    """By receiver and serial, each with its phase and verdict."""
    job = place.job()
    place.me.send("PATCH", f"/api/jobs/{job}", {"serial": "17"})
    place.me.begin(job, STEP)
    place.me.work(place.hand)

    found = place.me.get("/api/history?receiver_id=skerry-7&serial=17")
    rows = found["figures"]
    errors = [(row["job_id"], row["step_id"], row["phase"], row["verdict"]) for row in rows if row["verdict"]]
    assert (job, STEP, "as found", "adjust") in errors
    assert errors[-1] == (job, STEP, "as left", "leave")
    assert (found["jobs"], found["jobs_shown"]) == (1, 1)
    nothing = {"figures": [], "jobs": 0, "jobs_shown": 0}
    assert place.me.get("/api/history?receiver_id=skerry-7&serial=18") == nothing
    assert place.me.get("/api/history?receiver_id=skerry-7&until=2000-01-01") == nothing
    assert "receiver_id is missing" in place.me.refused("/api/history", status=422, method="GET")


def test_a_run_of_a_step_can_be_read_like_a_scan(place: Place) -> None:
    """With its readings; it does not stand among the scans."""
    job = place.job()
    place.me.begin(job, STEP)
    place.me.work(place.hand)

    run = place.me.state(job, STEP)["runs"][0]["id"]
    assert place.me.get("/api/scans") == []
    assert place.me.get(f"/api/scans/{run}")["readings"]


def test_the_question_stands_for_everybody_until_it_is_answered(place: Place) -> None:
    """A reload and a watcher see the same; only the operator answers."""
    place.me.begin(place.job(), STEP)
    asked = place.me.wait_for_question()
    assert asked is not None
    watcher = Technician(place.client, "two")

    assert watcher.bench()["session"]["asked"] == asked
    session = place.me.bench()["session"]
    assert session["asked"] == asked
    assert (session["step"], session["title"], session["phase"]) == (STEP, "Beat oscillator", "as found")
    assert (session["way"], session["turning"]) == ("count directly", "counted")
    assert session["run"] == place.me.bench()["busy_run"]
    assert set(asked) == {"number", "action", "subject", "text", "answers", "detail"}
    assert asked["action"] == "connect"
    assert asked["detail"]["counter"]["to"] == "beat oscillator"
    assert "Another page operates" in watcher.refused(
        "/api/answer", {"number": asked["number"], "answer": "done"}, status=409
    )


def test_a_stale_answer_is_refused(place: Place) -> None:
    """As is one that is none, and one to nothing."""
    place.me.begin(place.job(), STEP)
    first = place.me.wait_for_question()
    assert first is not None

    assert "give one of done" in place.me.refused(
        "/api/answer", {"number": first["number"], "answer": "perhaps"}, status=422
    )
    place.me.answer(first["number"], "done")
    second = place.me.wait_for_question()
    assert second is not None
    assert "no longer stands" in place.me.refused(
        "/api/answer", {"number": first["number"], "answer": "done"}, status=409
    )
    place.me.post("/api/stop")
    place.me.wait_for_end()
    assert "No question waits" in place.me.refused(
        "/api/answer", {"number": second["number"], "answer": "done"}, status=409
    )


def test_stopped_at_a_question_it_goes_on_where_it_was_and_asks_nothing_twice(place: Place) -> None:
    """The step stays on; as found is not measured again, the leads are not asked for again."""
    job = place.job()
    place.me.begin(job, STEP)
    unanswered = place.me.work(up_to(place.hand, "turn"))
    assert unanswered is not None

    place.me.post("/api/stop")
    place.me.wait_for_end()
    state = place.me.state(job, STEP)
    assert (state["on"], state["ending"], state["refused"]) == (True, None, [])
    assert state["as_found"]
    assert place.me.get(f"/api/jobs/{job}")["next_step"] == STEP
    assert place.me.bench()["last_error"] is None

    place.me.questions.clear()
    place.me.begin(job, STEP)
    assert place.me.work(place.hand) is None

    again = [one["action"] for one in place.me.questions]
    assert "set" not in again
    assert again[0] == "connect"  # the pick-up had been moved away, and comes back
    assert [run["phase"] for run in place.me.state(job, STEP)["runs"]] == ["as found", "adjust", "adjust", "as left"]
    assert place.me.state(job, STEP)["ending"] == "within its limits"


@pytest.mark.parametrize("still", ["yes", "no"])
def test_after_a_restart_the_person_is_asked_what_still_stands(
    tmp_path: Path, opened: Callable[[Place], Place], still: str
) -> None:
    """Only the person can know; what still stands is not asked for again, and else all of it is."""
    with Place(tmp_path).client as client:
        me = Technician(client)
        eventually(lambda: me.bench()["instruments"])
        job = me.new_job()
        me.leave_before(job, STEP)
        me.begin(job, STEP)
        me.work(lambda asked: None if PICK_UP_MOVED in asked["text"] else str(asked["answers"][0]))
    hookup = me.questions[0]["text"]

    place = opened(Place(tmp_path))
    place.me.begin(job, STEP)
    asked = place.me.wait_for_question()
    assert asked is not None
    assert (asked["subject"], asked["answers"]) == ("standing", ["no", "yes"])
    place.me.answer(asked["number"], still)
    place.me.work(place.hand)

    assert place.me.questions[1]["action"] == "connect"
    assert (place.me.questions[1]["text"] == hookup) is (still == "no")
    assert place.me.state(job, STEP)["ending"] == "within its limits"


def test_a_scan_in_between_leaves_the_leads_unknown(place: Place) -> None:
    """It was hooked up otherwise."""
    job = place.job()
    place.me.begin(job, STEP)
    place.me.work(up_to(place.hand, "choose"))
    place.me.post("/api/stop")
    place.me.wait_for_end()

    place.bench.gated.gate.set()
    target = "skerry-7-third-passband-1-6khz"
    place.me.post("/api/scans", {"target": target, "detector": "linear", "settle_s": 0, "readings": 8})
    eventually(lambda: place.me.bench()["busy_run"] is None)

    place.me.begin(job, STEP)
    asked = place.me.wait_for_question()
    assert asked is not None
    assert asked["subject"] == "standing"


def test_a_session_ends_when_its_operator_has_gone(place: Place) -> None:
    """After the patience of the seat, with the source off; the step stays on."""
    job = place.job()
    place.me.begin(job, STEP)
    assert place.me.wait_for_question() is not None

    place.clock.time_s += 11.0
    watcher = Technician(place.client, "two")
    eventually(lambda: watcher.bench()["session"] is None)

    assert watcher.bench()["operator"]["present"] is False
    assert watcher.bench()["output_on"] is False
    assert watcher.bench()["last_error"].startswith("The page that operated this bench was gone, so the step was")
    assert watcher.state(job, STEP)["on"] is True
    assert place.bench.source.calls[-1] == ("safe", None)


def test_anybody_switches_the_output_off_and_the_session_ends(place: Place) -> None:
    """A watcher too."""
    job = place.job()
    place.me.begin(job, STEP)
    assert place.me.wait_for_question() is not None

    Technician(place.client, "two").post("/api/output-off")
    place.me.wait_for_end()

    assert place.me.state(job, STEP)["on"] is True
    assert place.bench.source.output_on is False


def test_a_shutdown_does_not_wait_for_an_answer(tmp_path: Path) -> None:
    """The source is off and the job free afterwards."""
    place = Place(tmp_path)
    with place.client:
        eventually(lambda: place.me.bench()["instruments"])
        job = place.job()
        place.me.begin(job, STEP)
        assert place.me.wait_for_question() is not None

    assert place.bench.closed
    assert place.bench.source.output_on is False
    second = Place(tmp_path)
    second.service.store.claim(job)
    assert second.service.store.progress(job).current is not None
    second.service.close()


def test_a_job_that_a_dead_program_had_in_hand_is_begun_and_said_to_have_been_taken_over(place: Place) -> None:
    job = place.job()
    with place.service.store._writing() as connection:  # noqa: SLF001 - stands for a program that died
        connection.execute(update(JobRow).values(claim_host="bench-2", claim_pid=1, claim_began=1.0))

    status, answer = place.me.send("POST", f"/api/jobs/{job}/steps/{STEP}/begin", {"turning": "counted"})

    assert status == 202
    assert answer["told"].startswith(f"Job {job} was in the hands of process 1 on bench-2, which is gone")
    place.me.work(place.hand)


@pytest.mark.parametrize("how", ["stop", "leave"])
def test_in_the_middle_of_readings_a_stop_is_heard_at_once(place: Place, how: str) -> None:
    """What was read until then is kept; a step that is left is over, and else it goes on later."""
    job = place.job()
    place.counter.reading_s = LONG_READING_S
    place.me.begin(job, STEP)
    asked = place.me.wait_for_question()
    assert asked is not None
    run = place.me.bench()["busy_run"]
    place.me.answer(asked["number"], "done")
    eventually(lambda: place.me.get(f"/api/scans/{run}")["readings"])

    if how == "stop":
        place.me.post("/api/stop")
    else:
        place.me.post(f"/api/jobs/{job}/steps/{STEP}/leave", {"reason": "It smells."})
    place.me.wait_for_end()

    state = place.me.state(job, STEP)
    assert [one["ending"] for one in state["runs"]] == ["stopped"]
    assert (state["on"], state["reason"]) == ((True, None) if how == "stop" else (False, "It smells."))
    assert place.me.get(f"/api/scans/{run}")["readings"]
    assert place.bench.source.output_on is False


def test_a_run_in_the_middle_of_its_readings_begins_again(place: Place) -> None:
    """What it read is kept, the source is off in between, and the same phase is run anew: to its end this time."""
    job = place.job()
    place.counter.reading_s = LONG_READING_S
    place.me.begin(job, STEP)
    asked = place.me.wait_for_question()
    assert asked is not None
    first = place.me.bench()["busy_run"]
    place.me.answer(asked["number"], "done")
    eventually(lambda: place.me.get(f"/api/scans/{first}")["readings"])

    assert place.me.send("POST", "/api/again") == (204, None)
    place.counter.reading_s = 0.0
    place.me.work(place.hand)

    runs = place.me.state(job, STEP)["runs"]
    assert [(one["phase"], one["ending"]) for one in runs[:2]] == [("as found", "stopped"), ("as found", "completed")]
    assert place.me.get(f"/api/scans/{first}")["readings"]
    assert place.me.state(job, STEP)["ending"] == "within its limits"
    assert place.bench.source.output_on is False


def test_a_run_begins_again_while_its_question_waits(place: Place) -> None:
    """The question no longer stands; adjusting begins anew, and asks again."""
    job = place.job()
    place.me.begin(job, STEP)
    turn = place.me.work(up_to(place.hand, "turn"))
    assert turn is not None

    place.me.post("/api/again")
    anew = place.me.work(up_to(place.hand, "turn"))

    assert anew is not None
    assert anew["number"] > turn["number"]
    assert "no longer stands" in place.me.refused(
        "/api/answer", {"number": turn["number"], "answer": "done"}, status=409
    )
    runs = place.me.state(job, STEP)["runs"]
    assert [(one["phase"], one["ending"]) for one in runs] == [
        ("as found", "completed"),
        ("adjust", "stopped"),
        ("adjust", None),
    ]
    place.me.post("/api/stop")


def test_without_a_run_nothing_begins_again(place: Place) -> None:
    """Neither with the bench free, nor between two runs, where what to do next is asked."""
    said = "Nothing is being measured now, so there is nothing to begin again."
    assert place.me.refused("/api/again", status=409) == said
    place.me.begin(place.job(), STEP)
    assert place.me.work(up_to(place.hand, "choose")) is not None
    assert place.me.refused("/api/again", status=409) == said
    place.me.post("/api/stop")


def test_a_fault_of_an_instrument_is_the_persons_to_mend(place: Place) -> None:
    """The run is over with the source off; it is tried again, or the step is left, as the person says."""
    job = place.job()
    place.counter.faults = [InstrumentFault("The counter at A is gone; look at its cable.")]
    place.me.begin(job, STEP)
    asked = place.me.work(up_to(place.hand, "choose", "fault"))
    assert asked is not None
    assert asked["answers"] == ["leave", "again"]
    assert asked["text"].startswith("The counter at A is gone; look at its cable.")
    assert place.me.bench()["busy_run"] is None

    place.me.answer(asked["number"], "again")
    place.me.work(place.hand)

    state = place.me.state(job, STEP)
    assert state["ending"] == "within its limits"
    assert [run["ending"] for run in state["runs"]][:2] == ["failed", "completed"]


def test_a_faulty_step_can_be_left(place: Place) -> None:
    """With the fault for a reason."""
    job = place.job()
    place.counter.faults = [InstrumentFault("The counter at A is gone; look at its cable.")]
    place.me.begin(job, STEP)
    asked = place.me.work(up_to(place.hand, "choose", "fault"))
    assert asked is not None
    place.me.answer(asked["number"], "leave")
    place.me.wait_for_end()

    state = place.me.state(job, STEP)
    assert (state["on"], state["ending"]) == (False, "not measured")
    assert state["reason"] == "The counter at A is gone; look at its cable."


def test_a_step_is_left_while_its_question_waits(place: Place) -> None:
    """With the reason that was given; the next step comes."""
    job = place.job()
    place.me.begin(job, STEP)
    assert place.me.work(up_to(place.hand, "turn")) is not None

    view = place.me.post(f"/api/jobs/{job}/steps/{STEP}/leave", {"reason": "The slug is sealed with wax."})

    state = next(one["state"] for one in view["steps"] if one["id"] == STEP)
    assert (state["on"], state["reason"]) == (False, "The slug is sealed with wax.")
    assert view["next_step"] == "passband-third"
    assert place.me.bench()["session"] is None


def test_live_guidance_is_shown_and_signals_are_heard(place: Place) -> None:
    """While the slug is turned every reading gives guidance; it is not kept; done ends it."""
    job = place.job()
    place.counter.reading_s = 0.002
    place.me.begin(job, STEP, turning="live")
    asked = place.me.work(up_to(place.hand, "adjust"))
    assert asked is not None
    assert place.me.bench()["session"]["turning"] == "live"
    assert "answer it first" in place.me.refused("/api/signal", {"signal": "done"}, status=409)
    run = place.me.bench()["busy_run"]
    first = place.service.feed.last
    place.me.answer(asked["number"], "ready")

    def shown() -> list[dict[str, Any]]:
        items = [item.body for item in place.service.feed.since(first).items if item.body]
        return [body for item in items if (body := json.loads(item)).get("event", {}).get("kind") == "Guidance"]

    eventually(shown)
    place.counter.frequency_hz = NOMINAL_HZ + 1.0
    eventually(lambda: shown()[-1]["event"]["word"] == "done")
    assert place.me.send("POST", "/api/signal", {"signal": "done"}) == (204, None)
    assert place.me.work(place.hand) is None

    guidance = shown()[-1]
    assert guidance["run"] == run
    assert guidance["event"]["adjuster"] == SLUG
    assert abs(guidance["event"]["error"] - 1.0) < 3.0
    kept = place.service.store.run(run)
    assert "Guidance" not in {event["kind"] for event in kept["events"]}
    state = place.me.state(job, STEP)
    assert state["ending"] == "within its limits"
    assert state["turned"] == [{"adjuster": SLUG, "turns": None}]


def test_a_signal_to_nothing_is_refused(place: Place) -> None:
    """No session, and a session that adjusts nothing."""
    said = "Nothing is being adjusted now, so there is nothing to signal."
    assert place.me.refused("/api/signal", {"signal": "step"}, status=409) == said
    place.me.begin(place.job(), STEP)
    assert place.me.wait_for_question() is not None
    assert place.me.refused("/api/signal", {"signal": "step"}, status=409) == said
    assert "must be one of 'step', 'done' or 'cannot'" in place.me.refused(
        "/api/signal", {"signal": "jump"}, status=422
    )


def test_a_record_that_fails_ends_the_session_with_the_source_off(
    place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    """And the page is told why."""
    job = place.job()

    def full(*_: object, **__: object) -> None:
        raise StoreError("The record cannot be written (disk full); give another --store.")

    place.me.begin(job, STEP)
    asked = place.me.wait_for_question()
    assert asked is not None
    monkeypatch.setattr(place.service.store, "answered", full)
    place.me.answer(asked["number"], "done")
    place.me.wait_for_end()

    assert place.me.bench()["last_error"] == "The record cannot be written (disk full); give another --store."
    assert place.bench.source.output_on is False
    assert place.me.state(job, STEP)["on"] is True


def test_the_job_is_told_to_change_after_each_note(place: Place) -> None:
    """Begun, measured, decided, adjusted, measured, decided; and when the session ends."""
    job = place.job()
    before = place.service.feed.last
    place.me.begin(job, STEP)
    place.me.work(place.hand)

    bodies = [item.body for item in place.service.feed.since(before).items]
    assert bodies.count(f'{{"job":{job}}}') == len(place.service.store.notes(job)) - 1 + 1
