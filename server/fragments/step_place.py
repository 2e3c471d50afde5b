"""One step of a job: cautions and hookup, the work, the result, its runs and notes."""

import json
from collections.abc import Mapping
from typing import Any

from markupsafe import Markup

from server.fragments.figures import groups_of, names_in, say_value, worst
from server.fragments.job_place import kind_of
from server.fragments.sources import Json, Query, Sources
from server.fragments.standing import stand_of
from server.fragments.words import capital, joined, number, say_setting, say_turns
from server.report.dial_scale import DialScale, DialSeries
from server.report.plots import SMALL, WIDE, dial_plot
from server.report.quantities import NO_BREAK

PHASES = {"as found": "as_found", "adjust": "turned", "as left": "as_left"}
"""Each phase, and what a step has once it has been through it."""

ROLES = ("source", "meter", "counter")
TURNS = frozenset({"slug", "trimmer", "padder"})
"""Kinds of adjusters that are turned and not moved along a scale."""


def step_context(sources: Sources, job_id: int, step_id: str, query: Query) -> Json | None:
    """Give what the page of a step shows; None where the job has no such step.

    Raises:
        UnknownThing: there is no such job.
    """
    job, bench = sources.job(job_id), sources.bench()
    place = next((place for place, step in enumerate(job["steps"]) if step["id"] == step_id), None)
    if place is None:
        return None
    steps, step = job["steps"], job["steps"][place]
    session = session_of(bench, job_id, step_id)
    way = _way(step, session, query)
    blocked = _blocked(job, step, bench)
    return {
        "title": f"{step['title']}, {job['receiver_name']}",
        "job": job,
        "step": step,
        "path": f"/api/jobs/{job['id']}/steps/{step['id']}",
        "number": place + 1,
        "kind": kind_of(step),
        "stand": stand_of(step, is_next=step["id"] == job["next_step"], on_bench=session is not None),
        "before": steps[place - 1] if place else None,
        "after": steps[place + 1] if place + 1 < len(steps) else None,
        "session": session,
        "watching": is_watching(bench),
        "work": json.dumps(_work(job, step, session, bench)),
        "phases": _phases(step, session),
        "blocked": blocked or "",
        "start": _start(step),
        "next": _next(job, step),
        "broken": _broken(sources, step),
        "headline": None if session else _headline(step),
        **_hookup(step, way),
        **_result(step),
    }


def session_of(bench: Json, job_id: int, step_id: str) -> Json | None:
    """Give the session on the bench, where it is of this step."""
    session: Json | None = bench.get("session")
    is_here = session is not None and (str(session["job"]), session["step"]) == (str(job_id), step_id)
    return session if is_here else None


def is_watching(bench: Json) -> bool:
    """Tell whether another page operates."""
    return bool(bench["operator"]["present"] and not bench["operator"]["you"])


def refusal(bench: Json, purpose: str) -> str | None:
    """Say what the bench has against something being started, None where nothing."""
    if is_watching(bench):
        return f"Another page operates the bench; take over {purpose} from here."
    if bench.get("session"):
        return f"A step is on the bench: {bench['session']['title']}."
    return None if bench["busy_run"] is None else "A scan is running."


def _blocked(job: Json, step: Json, bench: Json) -> str | None:
    if refused := refusal(bench, "to start"):
        return refused
    if job["state"] == "done":
        return "The job is done; continue it first."
    return next(iter(step["state"]["refused"]), None)


def _work(job: Json, step: Json, session: Json | None, bench: Json) -> Json:
    """Tell the page's own hands which runs to draw, and which one to follow."""
    state = step["state"]
    latest = {
        phase: next((run["id"] for run in reversed(state["runs"]) if run["phase"] == phase), None)
        for phase in ("as found", "as left")
    }
    return {
        "job": job["id"],
        "step": step["id"],
        "on": session is not None,
        "run": None if session is None else session["run"],
        "found": latest["as found"],
        "left": latest["as left"],
        "practice": bench["mode"] == "practice",
        "nominal_khz": step["nominal_khz"],
        "as_found": state["as_found"],
        "as_left": state["as_left"],
    }


def _way(step: Json, session: Json | None, query: Query) -> Json | None:
    """Give the way that is on, else the one chosen in view, else the one the step was begun in, else the first."""
    ways = {way["name"]: way for way in step["ways"]}
    wanted = [
        None if session is None else session["way"],
        query.get("way"),
        step["state"]["way"],
        next(iter(ways), None),
    ]
    return next((ways[name] for name in wanted if name in ways), None)


def _hookup(step: Json, way: Json | None) -> Json:
    hookup = {} if way is None else way["hookup"]
    good = capital(step["good"].removeprefix("Good is: "))
    nominal = step["nominal_khz"]
    leads = [(capital(role), hookup.get(f"{role}_to"), hookup.get(f"{role}_through")) for role in ROLES]
    return {
        "way": way,
        "leads": [lead for lead in leads if lead[1] is not None],
        "controls": list((hookup.get("controls") or {}).items()),
        "good": good if nominal is None else f"Nominal {say_setting(nominal * 1e3)}. {good}",
        "adjusters": [(each["name"], _about(each)) for each in step["adjusters"]],
        "measure_only": all(each["measure_only"] for each in step["adjusters"]),
    }


def _about(adjuster: Json) -> list[str]:
    only, clockwise = adjuster["measure_only"], adjuster["clockwise"]
    parts = [
        "set in the factory: measured, never turned" if only else "",
        f"band {', '.join(adjuster['bands'])}" if adjuster["bands"] else "",
        f"at the {adjuster['end']} end of the dial" if adjuster["end"] else "",
        f"clockwise {clockwise} the frequency" if clockwise in {"raises", "lowers"} and not only else "",
    ]
    return [part for part in parts if part]


def _phases(step: Json, session: Json | None) -> list[dict[str, str]]:
    measure_only = all(each["measure_only"] for each in step["adjusters"])
    shown = []
    for phase, key in PHASES.items():
        if measure_only and phase != "as found":
            continue
        is_now = session is not None and session["phase"] == phase
        word = "now" if is_now else "done" if step["state"][key] else "to come"
        symbol = {"now": "running", "done": "done", "to come": "open"}[word]
        shown.append({"name": phase, "word": word, "symbol": symbol})
    return shown


def _start(step: Json) -> str:
    if step["state"]["on"]:
        return "Continue this step"
    return "Start" if step["state"]["ending"] is None else "Repeat this step"


def _next(job: Json, step: Json) -> Json | None:
    """Give the way on, once this step has ended: far more often wanted than the same step again."""
    if step["state"]["ending"] is None or step["state"]["on"] or job["next_step"] == step["id"]:
        return None
    return next((each for each in job["steps"] if each["id"] == job["next_step"]), None)


def _broken(sources: Sources, step: Json) -> dict[str, str] | None:
    """Give the latest run, where it came to no end of its own."""
    run = next(iter(step["state"]["runs"][-1:]), None)
    if run is None or run["ending"] in {None, "completed"}:
        return None
    why = sources.scan(run["id"])["ending_text"] or ""
    return {"ending": run["ending"], "why": "" if why == f"The run was {run['ending']}." else why}


def _result(step: Json) -> Json:
    state = step["state"]
    in_bands = names_in(state["bands"])
    rows = [row for row in state["figures"] if row["name"] not in in_bands]
    has_left = any(row["left"] is not None for row in rows)
    is_adjusting = not state["as_left"] and bool(state["adjusted"])
    kinds = {each["name"]: each["kind"] for each in step["adjusters"]}
    return {
        "groups": groups_of(rows) if rows else [],
        "left_head": ("While adjusting" if is_adjusting else "As left") if has_left else "",
        "dial": None if state["dial"] is None else _dial(state["dial"]),
        "turned": [(one["adjuster"], say_turns(one["turns"], _scale_of(kinds, one))) for one in state["turned"]],
    }


def _headline(step: Json) -> str | None:
    """Say in one line what a step that has ended came to: the figure furthest out, with its limit."""
    rows = [row["left"] or row["found"] for row in step["state"]["figures"]]
    finding = None if step["state"]["ending"] is None else worst(rows)
    if finding is None or finding["limit"] is None:
        return None
    name = capital(joined(finding["name"], finding["where"], by=", "))
    return f"{name}: {finding['text']} (limit {finding['limit_text']})"


def _scale_of(kinds: Mapping[str, str], turned: Json) -> str:
    return "turn" if kinds.get(turned["adjuster"], "slug") in TURNS else "scale"


def _dial(dial: Json) -> dict[str, Any]:
    series = {when: _series(dial[when]) for when in ("found", "left")}
    scale, limit = DialScale(dial["limit_khz"], series["found"], series["left"]), number(dial["limit_khz"])
    told = [
        f"{when}: {_say_marks(dial[key])}." for when, key in (("As found", "found"), ("As left", "left")) if dial[key]
    ]
    says = f"Dial error over the scale, limit {limit} kHz either way. {' '.join(told)}"
    return {
        "wide": Markup(dial_plot(scale, says, WIDE)),  # noqa: S704 - written by an XML writer, which escapes
        "narrow": Markup(dial_plot(scale, says, SMALL)),  # noqa: S704 - the same
        "caption": (
            "Above nought the receiver is higher than its dial says, below it lower; the band is the limit of "
            f"{limit} kHz either way. Bars, where they can be seen, are twice the uncertainty."
        ),
    }


def _series(marks: list[Json]) -> DialSeries | None:
    points = tuple((mark["mark_khz"], mark["error_khz"], mark["sigma_khz"] or 0.0) for mark in marks)
    return DialSeries(points) if points else None


def _say_marks(marks: list[Json]) -> str:
    return ", ".join(
        f"{say_value(mark['error_khz'], mark['sigma_khz'], 'kHz')} at {number(mark['mark_khz'])} kHz" for mark in marks
    ).replace(NO_BREAK, " ")
