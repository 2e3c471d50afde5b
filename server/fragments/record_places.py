"""The records: jobs found again, the history of a receiver, kept scans."""

from collections.abc import Mapping
from operator import itemgetter

from server.fragments.figures import say_value
from server.fragments.setting import address
from server.fragments.sources import Json, Query, Sources
from server.fragments.standing import COUNTS
from server.fragments.time_picture import time_picture
from server.fragments.words import counted, joined, start_of_day

JOBS_AT_FIRST, SCANS_AT_FIRST = 50, 100
VERDICTS = [(name, stand.word) for name, stand in COUNTS.items()]


def job_search_context(sources: Sources, query: Query) -> Json:
    """Give what the search of jobs shows."""
    receiver = query.get("receiver", "")
    receivers = [(each["id"], each["name"]) for each in sources.receivers()]
    known = receiver in {ident for ident, _ in receivers}
    plan = sources.plan(receiver)["steps"] if known else []
    asked = {"text": query.get("text"), "receiver_id": receiver, "step": query.get("step"), **_days(query)}
    jobs = sources.jobs({**_given(asked), **_given({"verdict": query.get("verdict")})})
    return {
        "title": "Jobs, records",
        "tab": "Jobs",
        "query": _named(query, "text", "receiver", "step", "verdict", "since", "until"),
        "receivers": receivers,
        "steps": [(step["id"], step["title"]) for step in plan],
        "verdicts": VERDICTS,
        "jobs": jobs,
        **_shown("records", query, JOBS_AT_FIRST),
    }


def kept_scans_context(sources: Sources, query: Query) -> Json:
    """Give what the list of scans shows: those that are of no job."""
    scans = [scan for scan in sources.scans() if scan.get("job_id") is None]
    return {"title": "Scans, records", "tab": "Scans", "scans": scans, **_shown("records/scans", query, SCANS_AT_FIRST)}


def history_context(sources: Sources, query: Query) -> Json:
    """Give what the history of a receiver shows: each figure of each job against time."""
    receivers = [(each["id"], each["name"]) for each in sources.receivers()]
    chosen = query.get("receiver") or next((ident for ident, _ in receivers), "")
    told: Json = {"title": "History, records", "tab": "History", "query": _named(query, "serial", "since", "until")}
    if not chosen:
        return {
            **told,
            "receivers": [],
            "chosen": "",
            "serials": [],
            "steps": [],
            "told": "The service knows no receiver.",
        }
    serial = query.get("serial", "")
    found = sources.history(chosen, _given({"serial": serial, **_days(query)}))
    measured = [row for row in found["figures"] if row["value"] is not None]
    serials = {job["serial"] for job in sources.jobs({"receiver_id": chosen})} | {serial}
    titles = {step["id"]: step["title"] for step in sources.plan(chosen)["steps"]}
    return {
        **told,
        "receivers": receivers,
        "chosen": chosen,
        "serials": [(each, each) for each in sorted(serials - {"", None})],
        "told": _how_many(measured, found),
        "steps": [(titles.get(step, step), series) for step, series in _by_step(measured).items()],
    }


def _how_many(measured: list[Json], found: Json) -> str:
    if not measured:
        return "Nothing measured yet. Each figure of each job appears here, against time."
    jobs, shown = found["jobs"], found["jobs_shown"]
    figures = counted(len(measured), "figure")
    if jobs == shown:
        return f"{figures} of {counted(jobs, 'job')}"
    rest = "spread evenly from the first to the last. Choose a serial number or fewer days to see the others."
    return f"{figures} of {shown} of {counted(jobs, 'job')}, {rest}"


def _by_step(rows: list[Json]) -> dict[str, list[Json]]:
    series: dict[tuple[str, ...], list[Json]] = {}
    for row in sorted(rows, key=itemgetter("at_utc")):
        text = say_value(row["value"], row["sigma"], row["unit"])
        series.setdefault((row["step_id"], row["name"], row["where"], row["unit"]), []).append({**row, "text": text})
    steps: dict[str, list[Json]] = {}
    for (step, name, where, unit), each in series.items():
        one = {"what": joined(name, where, by=", "), "rows": each, "picture": time_picture(each, unit)}
        steps.setdefault(step, []).append(one)
    return steps


def _days(query: Query) -> dict[str, str | None]:
    since, until = query.get("since", ""), query.get("until", "")
    return {"since": start_of_day(since, 0), "until": start_of_day(until, 1)}


def _given(query: Mapping[str, str | None]) -> dict[str, str]:
    return {name: value for name, value in query.items() if value}


def _named(query: Query, *names: str) -> dict[str, str]:
    return {name: query.get(name, "") for name in names}


def _shown(place: str, query: Query, at_first: int) -> Json:
    """Say how many lines are shown, and where more are."""
    asked = query.get("show", "")
    shown = int(asked) if asked.isdecimal() else at_first
    others = {name: value for name, value in query.items() if name != "show"}
    return {"shown": shown, "more": address(*place.split("/"), **others, show=shown + at_first)}
