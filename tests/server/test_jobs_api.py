"""Jobs over HTTP: begun, described, found again; remarks and photos, of a job and of a step."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from server.api.app import create_app
from server.api.seat import CLIENT_HEADER
from server.api.service import assemble
from server.bench.file import BenchFile
from server.pictures import LARGEST_PHOTO_BYTES
from server.settings import Settings
from tests.server.benches import FakeBench, eventually
from tests.server.technician import Technician

JPEG = bytes.fromhex("ffd8ffe000104a46494600010100000100010000ffd9")
"""SOI, a JFIF segment and EOI: ITU-T T.871."""
PNG = bytes.fromhex("89504e470d0a1a0a0000000d49484452")
"""Signature and the head of the first chunk: ISO/IEC 15948, 5.2 and 11.2.2."""
WEBP = b"RIFF\x1a\x00\x00\x00WEBPVP8L"
"""RFC 9649, 2.4."""


@pytest.fixture
def me(tmp_path: Path) -> Iterator[Technician]:
    """A technician at a service."""
    settings = Settings(mode="bench", bench_file=BenchFile(), store_path=tmp_path / "record.sqlite")
    service = assemble(settings, open_bench=lambda _: FakeBench())
    with TestClient(create_app(service), base_url="http://127.0.0.1:8470") as http:
        technician = Technician(http)
        eventually(lambda: technician.bench()["instruments"])
        yield technician


def upload(me: Technician, path: str, content: bytes) -> tuple[int, dict[str, object]]:
    """Send a picture."""
    assert isinstance(me.http, TestClient)
    answer = me.http.post(path, content=content, headers={CLIENT_HEADER: me.name})
    return answer.status_code, answer.json()


def test_a_job_says_what_no_step_of_its_plan_has(me: Technician) -> None:
    """With the reason, in its answer and on its page; of a receiver all of which is planned, nothing."""
    sealed, whole = me.new_job("skerry-7"), me.new_job("millrace-5")

    told = me.get(f"/api/jobs/{sealed}")["not_planned"]
    assert [each["name"] for each in told] == ["input filter"]
    assert "nothing that tunes it may be turned" in told[0]["reason"]
    assert me.get(f"/api/jobs/{whole}")["not_planned"] == []
    pages = [me.http.request("GET", f"/fragments/jobs/{job}").text for job in (sealed, whole)]
    assert ["Nothing that tunes it may be turned" in page for page in pages] == [True, False]


def test_a_job_shows_the_spur_chart_before_anything_is_measured(me: Technician) -> None:
    """In its answer and on its page: whistles at two and three times an IF of 455 kHz, Langford-Smith (from memory)."""
    job = me.new_job("millrace-5")

    responses, own = me.get(f"/api/jobs/{job}")["spurs"]
    assert [row[1] for row in own["rows"]] == ["910", "1365"]
    assert responses["rows"][0][2:4] == ["1980", "image"]
    page = me.http.request("GET", f"/fragments/jobs/{job}").text
    assert "Spur chart" in page
    assert "<td>1365</td>" in page


def test_a_job_holds_what_is_said_of_the_receiver(me: Technician) -> None:
    """As it was given, with the instruments on the bench and the steps of its plan; nothing is done yet."""
    said = {
        "owner": "A. Owner",
        "make": "Skerry",
        "serial": "0042",
        "operator": "T.",
        "room_temperature_c": 21.5,
        "calibration_note": "Counter against the house standard.",
        "remark": "Hums.",
    }
    job = me.get(f"/api/jobs/{me.new_job('skerry-7', **said)}")

    assert {name: job[name] for name in said} == said
    assert (job["receiver_id"], job["receiver_name"], job["mode"], job["state"]) == (
        "skerry-7",
        "Skerry 7",
        "bench",
        "open",
    )
    assert {one["role"] for one in job["instruments"]} == {"source", "meter"}
    assert job["next_step"] == job["steps"][0]["id"]
    assert [one["id"] for one in job["steps"]] == [one["id"] for one in me.get("/api/receivers/skerry-7/plan")["steps"]]
    for step in job["steps"]:
        state = step["state"]
        assert (state["ending"], state["verdict"], state["on"], state["way"]) == (None, None, False, None)
        assert (state["as_found"], state["adjusted"], state["as_left"], state["turned"]) == ([], [], [], [])
        assert (state["runs"], state["remarks"], state["photos"], state["undone_by"]) == ([], [], [], [])
    assert "receiver_file" not in job


def test_what_is_said_can_be_changed(me: Technician) -> None:
    """Field by field; and the job paused, done and opened again."""
    job = me.new_job("skerry-7", owner="A.")
    status, changed = me.send("PATCH", f"/api/jobs/{job}", {"serial": "7", "room_temperature_c": 19.0})
    assert (status, changed["serial"], changed["owner"], changed["room_temperature_c"]) == (200, "7", "A.", 19.0)
    assert me.send("PATCH", f"/api/jobs/{job}", {"room_temperature_c": None})[1]["room_temperature_c"] is None
    assert me.send("PATCH", f"/api/jobs/{job}", {"state": "paused"})[1]["state"] == "paused"
    done = me.send("PATCH", f"/api/jobs/{job}", {"state": "done"})[1]
    assert (done["state"], done["ended_utc"] is not None) == ("done", True)
    assert me.send("PATCH", f"/api/jobs/{job}", {"state": "open"})[1]["ended_utc"] is None


def test_wrong_values_are_refused_by_name(me: Technician) -> None:
    """One sentence each."""
    job = me.new_job()
    path = f"/api/jobs/{job}"
    assert "receiver_id is missing" in me.refused("/api/jobs", {"owner": "A."}, status=422)
    assert "must be a number" in me.refused(path, {"room_temperature_c": "warm"}, status=422, method="PATCH")
    assert "must be 90.0 or less" in me.refused(path, {"room_temperature_c": 400}, status=422, method="PATCH")
    assert "'open', 'paused' or 'done'" in me.refused(path, {"state": "lost"}, status=422, method="PATCH")
    assert "known keys are owner, make" in me.refused(path, {"colour": "grey"}, status=422, method="PATCH")
    assert "no job number 77" in me.refused("/api/jobs/77", {"owner": ""}, status=404, method="PATCH")
    assert "no job number 77" in me.refused("/api/jobs/77", status=404, method="GET")


def test_jobs_are_found_again(me: Technician) -> None:
    """Newest first; by receiver, by words, by step and ending, by day."""
    first = me.new_job("skerry-7", owner="Anna", serial="17")
    second = me.new_job("millrace-5", owner="Bert")
    me.post(f"/api/jobs/{first}/steps/warm-up/leave", {"reason": "It was warm."})

    def found(**filters: str) -> list[int]:
        query = "&".join(f"{name}={value}" for name, value in filters.items())
        return [one["id"] for one in me.get(f"/api/jobs?{query}")]

    assert found() == [second, first]
    assert found(receiver_id="skerry-7") == [first]
    assert found(text="anna") == [first]
    assert found(text="17") == [first]
    assert found(step="warm-up") == [first]
    assert found(verdict="unmeasured") == [first]
    assert found(verdict="good") == []
    assert found(since="2001-01-01") == [second, first]
    assert found(until="2001-01-01") == []
    assert "no day or time" in me.refused("/api/jobs?since=yesterday", status=422, method="GET")
    listed = me.get("/api/jobs")[1]
    assert listed["counts"] == {"good": 0, "off": 0, "suspect": 0, "blocked": 0, "unjudged": 0, "unmeasured": 1}
    assert listed["steps_done"] == 1


def test_a_step_that_was_left_says_why(me: Technician) -> None:
    """And the next one comes."""
    job = me.new_job()
    view = me.post(f"/api/jobs/{job}/steps/warm-up/leave", {"reason": "It was warm."})

    state = view["steps"][0]["state"]
    assert (state["ending"], state["reason"], state["on"]) == ("not measured", "It was warm.", False)
    assert view["next_step"] == view["steps"][1]["id"]
    assert "no step 'tea'" in me.refused(f"/api/jobs/{job}/steps/tea/leave", {"reason": "None."}, status=404)
    assert "must be text that is not empty" in me.refused(
        f"/api/jobs/{job}/steps/warm-up/leave", {"reason": ""}, status=422
    )


def test_remarks_stand_with_their_step_or_the_job(me: Technician) -> None:
    """In order. A watcher may write one too: it touches nothing."""
    job = me.new_job()
    me.post(f"/api/jobs/{job}/remarks", {"text": "Came without its knobs."})
    Technician(me.http, "two").post(f"/api/jobs/{job}/steps/warm-up/remarks", {"text": "Hums for a minute."})

    view = me.get(f"/api/jobs/{job}")
    assert [one["text"] for one in view["remarks"]] == ["Came without its knobs."]
    assert [one["text"] for one in view["steps"][0]["state"]["remarks"]] == ["Hums for a minute."]
    assert "between 1 and" in me.refused(f"/api/jobs/{job}/remarks", {"text": " "}, status=422)
    assert "no step 'tea'" in me.refused(f"/api/jobs/{job}/steps/tea/remarks", {"text": "Hot."}, status=404)
    assert "who sends it" in Technician(me.http, "").refused(f"/api/jobs/{job}/remarks", {"text": "?"}, status=400)


@pytest.mark.parametrize(("kind", "content"), [("image/jpeg", JPEG), ("image/png", PNG), ("image/webp", WEBP)])
def test_a_photo_comes_back_as_it_was(me: Technician, kind: str, content: bytes) -> None:
    """By its content, whatever it is called."""
    job = me.new_job()
    status, answer = upload(me, f"/api/jobs/{job}/steps/warm-up/photos?name=chassis.txt", content)
    assert status == 201

    photo = me.get(f"/api/jobs/{job}")["steps"][0]["state"]["photos"][0]
    assert (photo["id"], photo["name"], photo["media_type"]) == (answer["id"], "chassis.txt", kind)
    assert isinstance(me.http, TestClient)
    back = me.http.get(f"/api/photos/{answer['id']}")
    assert (back.content, back.headers["content-type"]) == (content, kind)
    assert back.headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize(
    "content", [b"", b"<svg xmlns='http://www.w3.org/2000/svg'/>", b"GIF89a", b"RIFF....WAVE", b"%PDF"]
)
def test_what_is_no_photo_is_refused(me: Technician, content: bytes) -> None:
    """A drawing may carry a program, a document is none."""
    status, answer = upload(me, f"/api/jobs/{me.new_job()}/photos?name=a.jpg", content)

    assert (status, answer) == (422, {"error": "This file is no JPEG, PNG or WebP picture; give one of these."})


def test_a_photo_that_is_too_large_is_refused(me: Technician) -> None:
    """Before it is read to its end."""
    job = me.new_job()
    status, answer = upload(me, f"/api/jobs/{job}/photos", JPEG + bytes(LARGEST_PHOTO_BYTES))

    assert (status, answer) == (413, {"error": "A photo may have at most 10 MB; make it smaller."})
    assert me.get(f"/api/jobs/{job}")["photos"] == []
    assert "no photo number 9" in me.refused("/api/photos/9", status=404, method="GET")


def test_a_job_is_carried_to_another_bench_as_one_file(me: Technician, tmp_path: Path) -> None:
    """With its steps, remarks and photos; a second time it is refused."""
    job = me.new_job("skerry-7", serial="0042")
    me.post(f"/api/jobs/{job}/steps/warm-up/leave", {"reason": "It was warm."})
    me.post(f"/api/jobs/{job}/remarks", {"text": "Hums."})
    assert upload(me, f"/api/jobs/{job}/steps/warm-up/photos?name=a", PNG)[0] == 201
    assert isinstance(me.http, TestClient)
    file = me.http.get(f"/api/jobs/{job}/job.zip")
    assert file.headers["content-type"] == "application/zip"
    assert f"skerry-7-job-{job}.zip" in file.headers["content-disposition"]

    status, answer = upload(me, "/api/jobs/import", file.content)
    assert status == 422
    assert list(answer) == ["error"]
    settings = Settings(mode="bench", bench_file=BenchFile(), store_path=tmp_path / "other.sqlite")
    service = assemble(settings, open_bench=lambda _: FakeBench())
    with TestClient(create_app(service), base_url="http://127.0.0.1:8470") as http:
        there = Technician(http)
        status, answer = upload(there, "/api/jobs/import", file.content)
        assert status == 201
        carried = there.get(f"/api/jobs/{answer['id']}")
        assert (carried["serial"], carried["remarks"][0]["text"]) == ("0042", "Hums.")
        state = carried["steps"][0]["state"]
        assert state["reason"] == "It was warm."
        assert http.get(f"/api/photos/{state['photos'][0]['id']}").content == PNG


def test_what_is_no_job_file_is_refused(me: Technician) -> None:
    """Nor a job that is not there."""
    status, answer = upload(me, "/api/jobs/import", b"not a zip")
    assert (status, list(answer)) == (422, ["error"])
    assert "no job number 5" in me.refused("/api/jobs/5/job.zip", status=404, method="GET")


def test_there_is_no_practice_on_a_bench_of_instruments(me: Technician) -> None:
    """Nothing there at all."""
    said = "This is a bench of instruments; only the practice bench has a receiver to turn here."
    assert me.refused("/api/practice", status=404, method="GET") == said
    assert me.refused("/api/practice/truth", status=404, method="GET") == said
    assert me.refused("/api/practice/turn", {"adjuster": "T1 primary", "turns": 1}, status=404) == said
    assert me.refused("/api/practice/do", {"number": 1}, status=404) == said


def test_only_the_operator_begins_and_changes_jobs(me: Technician) -> None:
    """Others watch."""
    job = me.new_job()
    watcher = Technician(me.http, "two")

    assert watcher.get(f"/api/jobs/{job}")["id"] == job
    for method, path, body in (
        ("POST", "/api/jobs", {"receiver_id": "skerry-7"}),
        ("PATCH", f"/api/jobs/{job}", {"owner": "B."}),
        ("POST", f"/api/jobs/{job}/steps/warm-up/begin", {}),
        ("POST", f"/api/jobs/{job}/steps/warm-up/leave", {"reason": "No."}),
        ("POST", "/api/answer", {"number": 1, "answer": "done"}),
        ("POST", "/api/signal", {"signal": "step"}),
    ):
        assert "take over first" in watcher.refused(path, body, status=409, method=method)
