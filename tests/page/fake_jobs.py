"""The fake's jobs: the plans of the receivers that ship, with figures a test writes and a session it steers."""

import copy
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any

from fastapi import Body, FastAPI, Header, Request
from fastapi.responses import JSONResponse, Response

from sequences.kinds import alignment_plan
from sequences.receiver.file import shipped_receivers
from server.api.plan_views import plan_view, receiver_view
from server.fragments.figures import say_value
from server.report.quantities import say_plain
from tests.page.fake_service import FakeBench, Json, scripted_result

Client = Annotated[str | None, Header(alias="X-Peakwright-Client")]

HEADER: Json = {
    "owner": "",
    "make": "",
    "serial": "",
    "operator": "",
    "room_temperature_c": None,
    "calibration_note": "",
    "remark": "",
}

GOOD, OFF, SUSPECT = "within its limits", "left outside its limits", "a part is suspected"
COUNT_NAMES = {GOOD: "good", OFF: "off", SUSPECT: "suspect", "measured, but not judged": "unjudged"}

FRESH: Json = {
    "on": False,
    "ending": None,
    "verdict": None,
    "way": None,
    "reason": None,
    "as_found": [],
    "adjusted": [],
    "as_left": [],
    "figures": [],
    "dial": None,
    "bands": None,
    "turned": [],
    "advice": [],
    "doubts": [],
    "refused": [],
    "waits_for": [],
    "warnings": [],
    "undone_by": [],
    "runs": [],
    "remarks": [],
    "photos": [],
}


def finding(name: str, value: float | None, limit: float | None, unit: str = "Hz", **changes: Any) -> Json:  # noqa: ANN401 - JSON
    """Describe one figure of a step as the API does."""
    beyond = value is not None and limit is not None and abs(value) > limit
    judged = value is not None and limit is not None
    sense = "at least" if (limit or 0.0) < 0.0 else "either way"
    told = {"quantity": name.replace(" ", "-"), "sense": None if limit is None else sense, "meaning": ""}
    sigma = changes.get("sigma", None if value is None else 1.4)
    limit_text = None if limit is None else f"{'at least ' if limit < 0 else '±'}{say_plain(limit, unit)}"
    return {
        **told,
        "text": "not measured" if value is None else say_value(value, sigma, unit),
        "limit_text": limit_text,
        "mark_khz": None,
        "name": name,
        "where": "",
        "when": None,
        "unit": unit,
        "value": value,
        "sigma": None if value is None else 1.4,
        "limit": limit,
        "standing": ("beyond its limit" if beyond else "within its limit") if judged else None,
        "verdict": ("adjust" if beyond else "leave") if judged else None,
        "sentence": f"The {name} is {value:g} {unit}; the limit is {limit:g} {unit}." if judged else None,
        "reason": None if value is not None else "The counter gave no steady count.",
        **changes,
    }


def side_by_side(state: Json) -> list[Json]:
    """Put each figure as found beside that of its name and place as left."""
    found, left = ({(one["name"], one["where"]): one for one in state[key]} for key in ("as_found", "as_left"))
    keys = dict.fromkeys((*found, *left))
    return [{"name": key[0], "where": key[1], "found": found.get(key), "left": left.get(key)} for key in keys]


@dataclass
class FakeJobs:
    """The jobs of the fake, and the strings a test pulls."""

    bench: FakeBench
    jobs: list[Json] = field(default_factory=list)
    begun: list[Json] = field(default_factory=list)
    answers: list[tuple[int, str]] = field(default_factory=list)
    signals: list[str] = field(default_factory=list)
    agains: int = 0
    photos: list[bytes] = field(default_factory=list)
    searches: list[dict[str, str]] = field(default_factory=list)
    history: list[Json] = field(default_factory=list)
    jobs_with_figures: int | None = None
    """More than those whose figures are told, in a record of very many."""

    refuse_begin: str | None = None
    told: str | None = None
    """What is said of a job that was taken over as a step of it is begun."""

    plans: dict[str, Json] = field(
        default_factory=lambda: {one.id: plan_view(one, alignment_plan(one)) for one in shipped_receivers()}
    )

    def create(self, receiver_id: str, **fields: Any) -> Json:  # noqa: ANN401 - JSON
        """Begin a job."""
        plan = copy.deepcopy(self.plans[receiver_id])
        job = {
            "id": len(self.jobs) + 1,
            "receiver_id": receiver_id,
            "receiver_name": plan["receiver"]["name"],
            "started_utc": _now(),
            "ended_utc": None,
            "state": "open",
            "mode": "practice",
            **HEADER,
            **fields,
            "remarks": [],
            "photos": [],
            "steps": [{**step, "state": copy.deepcopy(FRESH)} for step in plan["steps"]],
            "not_planned": plan["not_planned"],
            "spurs": plan["spurs"],
        }
        self.jobs.append(job)
        return job

    def step(self, job_id: int, step_id: str) -> Json:
        """Find a step of a job."""
        found: Json = next(step for step in self.jobs[job_id - 1]["steps"] if step["id"] == step_id)
        return found

    def end_step(self, job_id: int, step_id: str, ending: str = GOOD, **state: Any) -> Json:  # noqa: ANN401 - JSON
        """Write how a step ended."""
        step = self.step(job_id, step_id)
        step["state"].update({"ending": ending, **state})
        self.change(job_id)
        return step

    def change(self, job_id: int) -> None:
        """Tell every stream that a job changed."""
        self.bench.items.append({"job": job_id})

    def view(self, job_id: int) -> Json:
        """Give a job as the API shows it; a step waits until those it depends on have ended."""
        job = copy.deepcopy(self.jobs[job_id - 1])
        ended = {step["id"] for step in job["steps"] if step["state"]["ending"] is not None}
        titles = {step["id"]: step["title"] for step in job["steps"]}
        for step in job["steps"]:
            step["state"]["figures"] = step["state"]["figures"] or side_by_side(step["state"])
            missing = [titles[other] for other in step["depends_on"] if other not in ended]
            if missing and step["state"]["ending"] is None and not step["state"]["refused"]:
                step["state"]["refused"] = [f"It rests on {', '.join(missing)}, which must be done first."]
        job["next_step"] = next((step["id"] for step in job["steps"] if step["id"] not in ended), None)
        return job

    def line(self, job: Json) -> Json:
        """Give a job as the list shows it."""
        endings = [step["state"]["ending"] for step in job["steps"] if step["state"]["ending"] is not None]
        names = [COUNT_NAMES.get(ending, "unmeasured") for ending in endings]
        counts = {name: names.count(name) for name in ("good", "off", "suspect", "blocked", "unjudged", "unmeasured")}
        hidden = {"steps", "remarks", "photos"}
        header = {key: value for key, value in job.items() if key not in hidden}
        return {**header, "counts": counts, "steps_done": len(endings)}

    def search(self, query: Mapping[str, str]) -> list[Json]:
        """Find jobs, newest first, and note what was asked for."""
        asked = dict(query)
        self.searches.append(asked)
        text = asked.get("text", "").lower()
        found = [job for job in self.jobs if text in f"{job['receiver_name']} {job['owner']} {job['serial']}".lower()]
        found = [job for job in found if asked.get("receiver_id", job["receiver_id"]) == job["receiver_id"]]
        return [self.line(job) for job in reversed(found)]

    def history_view(self) -> Json:
        """Give the figures of the years."""
        shown = len({row["job_id"] for row in self.history})
        return {"figures": self.history, "jobs": self.jobs_with_figures or shown, "jobs_shown": shown}

    def begin(self, job_id: int, step_id: str, order: Json) -> None:
        """Put a step on the bench."""
        step = self.step(job_id, step_id)
        self.begun.append({"job": job_id, "step": step_id, **order})
        step["state"].update(on=True, ending=None, way=order["way"])
        self.bench.session = {
            "job": job_id,
            "step": step_id,
            "title": step["title"],
            "phase": "as found",
            "way": order["way"],
            "turning": order["turning"],
            "run": None,
            "asked": None,
        }
        self.change(job_id)
        self.bench.change()

    def ask(self, number: int, text: str, answers: tuple[str, ...] = ("done",), **changes: Any) -> None:  # noqa: ANN401 - JSON
        """Let the session ask something."""
        assert self.bench.session is not None
        question = {"number": number, "action": "choose", "subject": "", "text": text, "answers": list(answers)}
        self.bench.session["asked"] = {**question, "detail": {}, **changes}
        self.bench.change()

    def phase(self, phase: str) -> None:
        """Let the session go on to another phase."""
        assert self.bench.session is not None
        self.bench.session["phase"] = phase
        self.bench.change()

    def leave_bench(self) -> None:
        """Take the session off the bench."""
        self.bench.session = None
        self.bench.busy = None
        self.bench.output_on = False
        self.bench.change()

    def add_run(self, job_id: int, step_id: str, phase: str, off_hz: float, *, readings: int = 41) -> Json:
        """Keep a sweep of a step, as found or as left."""
        run: Json = {
            "id": len(self.bench.scans) + 1,
            "seq": 0,
            "started_utc": _now(),
            "target": step_id,
            "target_name": step_id,
            "receiver": "Skerry 7",
            "ending": "completed",
            "ending_text": "",
            "job_id": job_id,
            "step_id": step_id,
            "phase": phase,
            "settings": {"level_dbm": -60.0, "settle_s": 0.02, "detector": "linear", "readings": readings},
            "instruments": [],
            "readings": [],
            "result": None,
        }
        run["settings"].update(until_centre_percent=None, start_hz=56_000.0, stop_hz=64_000.0, hookup=None)
        self.bench.scans.append(run)
        for index in range(readings):
            self.bench.take_reading(run, index, readings, off_hz)
        figures = scripted_result(readings, off_hz)
        run["curves"] = [{"figures": figures, "first_index": 0, "last_index": readings - 1}]
        kept = {
            "id": run["id"],
            "phase": phase,
            "way": "sweep",
            "started_utc": run["started_utc"],
            "ending": "completed",
        }
        self.step(job_id, step_id)["state"]["runs"].append(kept)
        return run


def _now() -> str:
    return time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime())


def _refusal(sentence: str, status: int = 409) -> JSONResponse:
    return JSONResponse({"error": sentence}, status_code=status)


def add_jobs(app: FastAPI, jobs: FakeJobs) -> None:
    """Add the routes of receivers, jobs, steps and the session."""
    _add_receivers(app, jobs)
    _add_job_list(app, jobs)
    _add_notes(app, jobs)
    _add_steps(app, jobs)
    _add_session(app, jobs)


def _add_receivers(app: FastAPI, jobs: FakeJobs) -> None:
    @app.get("/api/receivers")
    def receivers() -> list[Json]:
        return [receiver_view(one) for one in reversed(shipped_receivers())]

    @app.get("/api/receivers/{receiver_id}/plan")
    def plan(receiver_id: str) -> Json:
        return jobs.plans[receiver_id]

    @app.get("/api/history")
    def history() -> Json:
        return jobs.history_view()


def _add_job_list(app: FastAPI, jobs: FakeJobs) -> None:
    @app.get("/api/jobs")
    def read_jobs(request: Request) -> list[Json]:
        return jobs.search(request.query_params)

    @app.post("/api/jobs", status_code=201)
    def create(order: Annotated[Json, Body()]) -> Json:
        return {"id": jobs.create(**order)["id"]}

    @app.post("/api/jobs/import")
    async def bring_in(request: Request) -> Response:
        if not (await request.body()).startswith(b"PK"):
            return _refusal("The file is no zip archive; bring in one that was exported here.", 422)
        return JSONResponse({"id": jobs.create("millrace-5", make="Brought in")["id"]}, status_code=201)

    @app.get("/api/jobs/{job_id}")
    def read_job(job_id: int) -> Response:
        if not 0 < job_id <= len(jobs.jobs):
            return _refusal(f"There is no job number {job_id}.", 404)
        return JSONResponse(jobs.view(job_id))

    @app.patch("/api/jobs/{job_id}")
    def change(job_id: int, fields: Annotated[Json, Body()]) -> Json:
        jobs.jobs[job_id - 1].update(fields)
        jobs.change(job_id)
        return jobs.view(job_id)


def _add_notes(app: FastAPI, jobs: FakeJobs) -> None:
    def place(job_id: int, step_id: str | None) -> Json:
        return jobs.jobs[job_id - 1] if step_id is None else jobs.step(job_id, step_id)["state"]

    def remark(job_id: int, order: Annotated[Json, Body()], step_id: str | None = None) -> Json:
        kept = place(job_id, step_id)["remarks"]
        kept.append({"id": len(kept) + 1, "at_utc": _now(), "text": order["text"]})
        jobs.change(job_id)
        return {"id": len(kept)}

    async def photo(job_id: int, request: Request, name: str, step_id: str | None = None) -> Json:
        jobs.photos.append(await request.body())
        place(job_id, step_id)["photos"].append({"id": len(jobs.photos), "at_utc": _now(), "name": name})
        jobs.change(job_id)
        return {"id": len(jobs.photos)}

    for path in ("/api/jobs/{job_id}", "/api/jobs/{job_id}/steps/{step_id}"):
        app.add_api_route(f"{path}/remarks", remark, methods=["POST"], status_code=201)
        app.add_api_route(f"{path}/photos", photo, methods=["POST"], status_code=201)

    @app.get("/api/photos/{photo_id}")
    def read_photo(photo_id: int) -> Response:
        return Response(jobs.photos[photo_id - 1], media_type="image/png")


def _add_steps(app: FastAPI, jobs: FakeJobs) -> None:
    @app.post("/api/jobs/{job_id}/steps/{step_id}/begin")
    def begin(job_id: int, step_id: str, order: Annotated[Json, Body()], client: Client = None) -> Response:
        if jobs.refuse_begin is not None:
            return _refusal(jobs.refuse_begin)
        jobs.bench.holder = client
        jobs.begin(job_id, step_id, order)
        return JSONResponse({"job": job_id, "step": step_id, "told": jobs.told}, status_code=202)

    @app.post("/api/jobs/{job_id}/steps/{step_id}/leave")
    def leave(job_id: int, step_id: str, order: Annotated[Json, Body()]) -> Json:
        jobs.end_step(job_id, step_id, "not measured", on=False, reason=order["reason"])
        return jobs.view(job_id)


def _add_session(app: FastAPI, jobs: FakeJobs) -> None:
    @app.post("/api/answer")
    def answer(order: Annotated[Json, Body()], client: Client = None) -> Response:
        if jobs.bench.holder not in {None, client}:
            return _refusal("Another page operates this bench; watch, or take over first.")
        jobs.answers.append((order["number"], order["answer"]))
        if jobs.bench.session is not None:
            jobs.bench.session["asked"] = None
        jobs.bench.change()
        return JSONResponse(jobs.bench.view(client))

    @app.post("/api/signal", status_code=204)
    def signal(order: Annotated[Json, Body()]) -> None:
        jobs.signals.append(order["signal"])

    @app.post("/api/again", status_code=204)
    def again() -> None:
        jobs.agains += 1
