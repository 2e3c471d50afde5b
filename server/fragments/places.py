"""Which part of the page a place of its address shows: one entry a place."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any, NamedTuple

from server.errors import UnknownThing
from server.fragments.job_place import job_context
from server.fragments.record_places import history_context, job_search_context, kept_scans_context
from server.fragments.setting import render
from server.fragments.sources import Json, Query, Sources
from server.fragments.step_place import step_context


class Shown(NamedTuple):
    """What is in view: the template's name and what it is filled with; `title` is among it."""

    template: str
    context: Json


def fragment(sources: Sources, place: str, query: Query) -> str:
    """Give what stands at a place of the page as HTML.

    Raises:
        UnknownThing: there is no such place, job or step.
    """
    path = [part for part in place.split("/") if part]
    template, context = _shown(sources, path, query)
    return render(template, {"title": "", **context})


def _shown(sources: Sources, path: Sequence[str], query: Query) -> Shown:
    match path:
        case ["jobs"]:
            return Shown("jobs", _job_list(sources))
        case ["bench"]:
            return Shown("bench", {"title": "Bench", "bench": sources.bench()})
        case ["jobs", "new"]:
            return Shown("new_job", _new_job(sources, query))
        case ["jobs", job]:
            return Shown("job", job_context(sources, _number(job)))
        case ["jobs", job, step]:
            told = step_context(sources, _number(job), step, query)
            return Shown("no_step", {"job": job, "step": step}) if told is None else Shown("step", told)
        case ["records", *rest] if "/".join(rest) in RECORDS:
            template, make = RECORDS["/".join(rest)]
            return Shown(template, make(sources, query))
        case _:
            raise UnknownThing("There is no such place on this page.")


RECORDS: Mapping[str, tuple[str, Callable[[Sources, Query], dict[str, Any]]]] = {
    "": ("records_jobs", job_search_context),
    "history": ("records_history", history_context),
    "scans": ("records_scans", kept_scans_context),
}


DETAILS = ("make", "serial", "owner", "operator", "room_temperature_c", "calibration_note")


def _number(text: str) -> int:
    if not text.isdecimal():
        raise UnknownThing(f"There is no job number {text}.")
    return int(text)


def _job_list(sources: Sources) -> Json:
    jobs, receivers = sources.jobs({}), sources.receivers()
    return {
        "title": "Jobs",
        "jobs": jobs,
        "open": [job for job in jobs if job["state"] != "done"],
        "done": [job for job in jobs if job["state"] == "done"],
        "receivers": receivers,
        "steps": {each["id"]: each["steps"] for each in receivers},
    }


def _new_job(sources: Sources, query: Query) -> Json:
    receivers = sources.receivers()
    known = {each["id"]: each for each in receivers}
    wanted = query.get("receiver", "")
    chosen = wanted if wanted in known else next(iter(known), "")
    latest = next(iter(sources.jobs({})), {})
    proposed = {**dict.fromkeys(DETAILS), "operator": latest.get("operator")}
    sentences = known[chosen]["cautions"] if chosen else []
    names = [(each["id"], each["name"]) for each in receivers]
    return {"title": "New job", "receivers": names, "chosen": chosen, "sentences": sentences, "proposed": proposed}
