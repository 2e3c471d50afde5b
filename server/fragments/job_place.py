"""One job with its plan at a glance."""

from collections.abc import Iterable, Sequence
from typing import Any

from server.fragments.sources import Json, Sources
from server.fragments.standing import Stand, stand_of
from server.fragments.words import in_words, listed, number, printed

MANY = 3
"""So many steps that wait for one reason have it told once, above them."""


def job_context(sources: Sources, job_id: int) -> Json:
    """Give what the page of a job shows."""
    job, on_bench = sources.job(job_id), step_on_bench(sources, job_id)
    shared = _shared_reason(job["steps"])
    rows = [_row(job, step, on_bench, shared) for step in job["steps"]]
    coming = on_bench or job["next_step"]
    following = next((step for step in job["steps"] if step["id"] == coming), None)
    ended = [row for row in rows if row["step"]["state"]["ending"] or row["step"]["id"] == on_bench]
    return {
        "title": f"{job['receiver_name']}, job {job['id']}",
        "job": job,
        "rows": rows,
        "shared": shared,
        "on_bench": on_bench,
        "next": following,
        "done": sum(row["step"]["state"]["ending"] is not None and row["stand"].word in DONE_WORDS for row in rows),
        "tallies": _tallies(row["stand"] for row in ended),
        "buttons": _buttons(job["state"], has_next=following is not None),
        "details": _details(job),
    }


DONE_WORDS = frozenset({"good", "off", "part suspected", "blocked", "not judged", "left unmeasured"})


def step_on_bench(sources: Sources, job_id: int) -> str | None:
    """Name the step of a job that is on the bench."""
    session = sources.bench().get("session")
    return session["step"] if session and str(session["job"]) == str(job_id) else None


def kind_of(step: Json) -> str:
    """Name the kind of a step, where its title does not say it already."""
    return "" if step["kind"].lower() == step["title"].lower() else in_words(step["kind"])


def findings_of(step: Json, when: str) -> list[Json]:
    """Give the figures of a step as found or as left."""
    return [row[when] for row in step["state"]["figures"] if row[when] is not None]


def _row(job: Json, step: Json, on_bench: str | None, shared: str | None) -> dict[str, Any]:
    is_next = step["id"] == job["next_step"]
    stand = stand_of(step, is_next=is_next, on_bench=step["id"] == on_bench)
    return {
        "step": step,
        "stand": stand,
        "is_next": is_next,
        "kind": kind_of(step),
        "found": findings_of(step, "found"),
        "left": findings_of(step, "left"),
        "reasons": _reasons(job, step, stand, shared),
    }


def _reasons(job: Json, step: Json, stand: Stand, shared: str | None) -> list[str]:
    state = step["state"]
    titles = {each["id"]: each["title"] for each in job["steps"]}
    told = []
    if stand.word in {"waits", "next"}:
        told += [reason for reason in _waits_for(job, state) if reason != shared]
    if state["reason"] is not None:
        told.append(state["reason"])
    if state["undone_by"] and state["ending"] is not None:
        told.append(f"Measure it again: {listed(titles.get(each, each) for each in state['undone_by'])} was adjusted.")
    return [*told, *(f"Doubt: {printed(doubt)}" for doubt in state["doubts"])]


def _waits_for(job: Json, state: Json) -> list[str]:
    """Tell what a step waits for by the numbers of the list, in place of the sentence with all their titles."""
    refused: list[str] = state["refused"]
    if not state["waits_for"]:
        return refused
    places = [place for place, step in enumerate(job["steps"], 1) if step["id"] in state["waits_for"]]
    return [f"Waits for step{'' if len(places) == 1 else 's'} {listed(places)}.", *refused[1:]]


def _shared_reason(steps: Sequence[Json]) -> str | None:
    every = [reason for step in steps if step["state"]["ending"] is None for reason in step["state"]["refused"]]
    return next((reason for reason in every if every.count(reason) >= MANY), None)


def _tallies(stands: Iterable[Stand]) -> list[tuple[Stand, int]]:
    kept = list(stands)
    return [(stand, kept.count(stand)) for stand in dict.fromkeys(kept)]


def _buttons(state: str, *, has_next: bool) -> list[tuple[str, str, str]]:
    """Give state, label and kind of the buttons that change how a job stands."""
    if state != "open":
        return [("open", "Continue the job", "")]
    pause = ("paused", "Pause the job", "")
    if has_next:
        return [pause, ("done", "End the job here", "")]
    return [("done", "The job is done", "button--primary"), pause]


def _details(job: Json) -> list[tuple[str, str]]:
    room = job["room_temperature_c"]
    said = {
        "Make and model": job["make"],
        "Serial number": job["serial"],
        "Owner": job["owner"],
        "Operator": job["operator"],
        "Room": None if room is None else f"{number(room)} °C",
        "Calibration": job["calibration_note"],
        "Remark": job.get("remark"),
        "Bench": "practice bench: a simulated receiver" if job["mode"] == "practice" else "real bench",
        "State": job["state"],
    }
    missing = [name.lower() for name, text in said.items() if not text]
    given = [(name, text) for name, text in said.items() if text]
    return [*given, ("Not given", ", ".join(missing))] if missing else given
