"""What may be begun at the page, and what is refused: in one sentence each, with nothing begun."""

import os
from collections.abc import Callable
from pathlib import Path

import psutil
from sqlalchemy import create_engine, text

from tests.server.benches import FakeBench, OscillatorCounter
from tests.server.place import STEP, Place
from tests.server.technician import up_to


def test_a_step_that_is_not_finished_goes_before_any_other(place: Place) -> None:
    """Neither begun nor left beside it."""
    job = place.job()
    place.me.begin(job, STEP)
    place.me.work(up_to(place.hand, "choose"))
    place.me.post("/api/stop")
    place.me.wait_for_end()

    said = "The step 'Beat oscillator' is not finished; go on with it, or leave it, first."
    assert place.me.refused(f"/api/jobs/{job}/steps/passband-third/begin", status=409) == said
    assert place.me.refused(f"/api/jobs/{job}/steps/passband-third/leave", {"reason": "No."}, status=409) == said
    assert place.me.state(job, "passband-third")["refused"] == [said]
    assert "was begun by the way 'count directly'" in place.me.refused(
        f"/api/jobs/{job}/steps/{STEP}/begin", {"way": "by ear"}, status=409
    )


def test_what_cannot_be_begun_says_why(place: Place) -> None:
    """Order, way, step, job, receiver; each in one sentence, with nothing begun."""
    job = place.me.new_job()
    begin = f"/api/jobs/{job}/steps/{{}}/begin"

    assert "waits for 'Warm-up'" in place.me.refused(begin.format(STEP), status=409)
    assert "has no step 'tea'" in place.me.refused(begin.format("tea"), status=404)
    assert "no job number 99" in place.me.refused("/api/jobs/99/steps/warm-up/begin", status=404)
    assert "no receiver" in place.me.refused("/api/jobs", {"receiver_id": "none"}, status=404)
    place.me.leave_before(job, STEP)
    assert "has no way 'guess'" in place.me.refused(begin.format(STEP), {"way": "guess"}, status=422)
    assert "must be one of 'live' or 'counted'" in place.me.refused(begin.format(STEP), {"turning": "fast"}, status=422)
    assert "known keys are way, turning" in place.me.refused(begin.format(STEP), {"level": 3}, status=422)
    assert place.me.bench()["session"] is None


def test_a_missing_instrument_is_named(tmp_path: Path, opened: Callable[[Place], Place]) -> None:
    """Both where no way is left and where the way that is asked for needs it."""
    place = opened(Place(tmp_path, FakeBench(counter=OscillatorCounter(), missing={"counter", "source"})))
    job = place.job()
    begin = f"/api/jobs/{job}/steps/{STEP}/begin"

    said = "Beat oscillator needs a counter, and the bench has none that answers."
    assert place.me.refused(begin, status=409) == said
    assert place.me.state(job, STEP)["refused"] == [said]
    place.bench.found = {"source"}
    place.me.post("/api/bench/look")
    assert place.me.state(job, STEP)["refused"] == []
    assert place.me.refused(begin, {"way": "count directly"}, status=409) == (
        "'Beat oscillator' by the way 'count directly' needs a counter, and the bench has none ready."
    )


def test_one_thing_at_a_time(place: Place) -> None:
    """No second session and no scan beside a session; no look for instruments either."""
    job = place.job()
    place.me.begin(job, STEP)
    assert place.me.wait_for_question() is not None

    said = "The step 'Beat oscillator' is on; wait for its end or stop it first."
    assert place.me.refused(f"/api/jobs/{job}/steps/{STEP}/begin", status=409) == said
    assert place.me.refused("/api/scans", {"target": "skerry-7-third-passband-1-6khz"}, status=409) == said
    assert place.me.refused("/api/bench/look", status=409) == said
    assert "stop it before the job is done" in place.me.refused(
        f"/api/jobs/{job}", {"state": "done"}, status=409, method="PATCH"
    )
    place.me.questions.clear()
    assert place.me.work(place.hand) is None


def test_a_done_job_is_opened_again_first(place: Place) -> None:
    """Otherwise the record would go on after its end."""
    job = place.job()
    place.me.send("PATCH", f"/api/jobs/{job}", {"state": "done"})

    assert place.me.refused(f"/api/jobs/{job}/steps/{STEP}/begin", status=409) == (
        f"Job {job} is done; open it again first."
    )
    place.me.send("PATCH", f"/api/jobs/{job}", {"state": "open"})
    place.me.begin(job, STEP)


def test_a_job_in_the_hands_of_another_program_is_left_to_it(place: Place, tmp_path: Path) -> None:
    """Which lives: here the one that started the tests."""
    job = place.job()
    engine = create_engine(f"sqlite:///{tmp_path / 'record.sqlite'}")
    with engine.begin() as connection:
        parent = psutil.Process(os.getppid())
        claim = "UPDATE jobs SET claim_host = 'here', claim_pid = :pid, claim_began = :began WHERE id = :job"
        connection.execute(text(claim), {"pid": parent.pid, "began": parent.create_time(), "job": job})
    engine.dispose()

    assert "in the hands of another program" in place.me.refused(f"/api/jobs/{job}/steps/{STEP}/begin", status=409)
    assert place.me.bench()["session"] is None
