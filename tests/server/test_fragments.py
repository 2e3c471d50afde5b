"""The page's parts as HTML against what the API describes: every form fits its route, every shape its source."""

import json
import re
from collections.abc import Iterator
from dataclasses import dataclass, field, fields
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from sequences.engine.events import Asked, Guidance, LevelTaken, Progress, ReadingTaken
from server.api.app import create_app
from server.api.scan_views import RUN_FIELDS, SUMMARY_FIELDS
from server.api.service import assemble
from server.bench.file import BenchFile, MeterEntry, SourceEntry
from server.bench.worker import BenchView
from server.errors import UnknownThing
from server.fragments.places import fragment
from server.settings import Settings
from tests.fakes import FakeSource
from tests.page.fake_jobs import FakeJobs, finding
from tests.page.fake_service import FakeBench
from tests.page.fake_sources import FakeSources
from tests.page.sample_jobs import job_done, job_on_its_way, years_of_figures
from tests.server.benches import FakeBench as SilentBench
from tests.server.benches import PassbandMeter

MODULES = Path(__file__).parents[2] / "server" / "page" / "modules"
FIELD_TAGS = frozenset({"input", "textarea", "select"})

Json = dict[str, Any]


@dataclass
class Act:
    """One form or button: what it asks of which route, and under which names."""

    path: str
    method: str
    names: set[str] = field(default_factory=set)


class Acts(HTMLParser):
    """Collects what a part of the page can ask for."""

    def __init__(self) -> None:
        super().__init__()
        self.found: list[Act] = []
        self._forms: dict[str, Act] = {}
        self._loose: list[tuple[str, str]] = []
        self._open: Act | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = {name: value or "" for name, value in attrs}
        if "data-post" in told:
            act = Act(told["data-post"], told.get("data-method", "POST").lower())
            act.names = set(json.loads(told.get("data-body", "{}")))
            self.found.append(act)
            if tag == "form":
                self._open = self._forms[told.get("id", "")] = act
        if tag in FIELD_TAGS and "name" in told and told["name"]:
            if "form" in told:
                self._loose.append((told["form"], told["name"]))
            elif self._open is not None:
                self._open.names.add(told["name"])

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._open = None

    def close(self) -> None:
        super().close()
        for form, name in self._loose:
            if form in self._forms:
                self._forms[form].names.add(name)


@pytest.fixture(scope="module")
def openapi(tmp_path_factory: pytest.TempPathFactory) -> Json:
    """What the service says of itself."""
    bench_file = BenchFile(
        source=SourceEntry(address="source", ceiling_dbm=0.0, loss_db=0.0), meter=MeterEntry(address="meter")
    )
    path = tmp_path_factory.mktemp("record") / "record.sqlite"
    settings = Settings(mode="bench", bench_file=bench_file, store_path=path)
    source = FakeSource()
    service = assemble(settings, open_bench=lambda _: SilentBench(source, PassbandMeter(source, 60e3, 2e3)))
    described: Json = create_app(service).openapi()
    service.close()
    return described


@pytest.fixture(scope="module")
def parts() -> dict[str, str]:
    """Every place of the page, of jobs in many states, by one who operates and while a step is on."""
    jobs = FakeJobs(FakeBench())
    number = job_on_its_way(jobs)
    job_done(jobs)
    years_of_figures(jobs, number)
    steps = [step["id"] for step in jobs.jobs[0]["steps"]]
    jobs.end_step(number, steps[7], figures=[{**_row("dial error"), "found": finding("dial error", 2.0, 1.0, "kHz")}])
    places = ["jobs", "jobs/new", "jobs/1", "jobs/2", "records", "records/history", "records/scans", "bench"]
    shown = {place: _part(jobs, place) for place in (*places, *(f"jobs/1/{step}" for step in steps))}
    jobs.begin(1, steps[3], {"way": None, "turning": "live"})
    assert jobs.bench.session is not None
    jobs.bench.session["run"] = 1
    jobs.bench.holder = "somebody"
    return {**shown, "on": _part(jobs, f"jobs/1/{steps[3]}", "somebody"), "watched": _part(jobs, "bench", "other")}


def _row(name: str) -> Json:
    return {"name": name, "where": "", "found": None, "left": None}


def _part(jobs: FakeJobs, place: str, client: str | None = None) -> str:
    return fragment(FakeSources(jobs, client), place, {})


def acts_of(parts: dict[str, str]) -> Iterator[tuple[str, Act]]:
    """Give every form and button with the place it stands at."""
    for place, html in parts.items():
        reader = Acts()
        reader.feed(html)
        reader.close()
        yield from ((place, act) for act in reader.found)


def body_of(openapi: Json, act: Act) -> Json:
    """Give what the description says of an act's body."""
    for path, methods in openapi["paths"].items():
        if act.method in methods and re.fullmatch(re.sub(r"\{\w+\}", "[^/]+", path), act.path):
            content = methods[act.method].get("requestBody", {}).get("content", {}).get("application/json")
            if content is None:
                return {"properties": {}, "required": []}
            name = content["schema"]["$ref"].rsplit("/", 1)[1]
            schema: Json = openapi["components"]["schemas"][name]
            return schema
    pytest.fail(f"There is no route {act.method} {act.path}")


def test_every_form_and_button_asks_for_a_route_that_there_is_by_the_names_it_knows(
    openapi: Json, parts: dict[str, str]
) -> None:
    """No field that the route would refuse, and none missing that it asks for."""
    acts = list(acts_of(parts))
    assert len(acts) > 40
    for place, act in acts:
        body = body_of(openapi, act)
        assert act.names <= set(body["properties"]), (place, act)
        assert set(body.get("required", ())) <= act.names, (place, act)


def test_a_place_that_is_none_is_said_to_be_none() -> None:
    jobs = FakeJobs(FakeBench())
    for place in ("nowhere", "jobs/nine", "records/attic"):
        with pytest.raises(UnknownThing):
            _part(jobs, place)
    assert "This job has no step" in _part_of_unknown_step(jobs)


def _part_of_unknown_step(jobs: FakeJobs) -> str:
    job_on_its_way(jobs)
    return _part(jobs, "jobs/1/sharpening")


def test_what_people_wrote_is_shown_as_they_wrote_it_and_never_run() -> None:
    """A name in a record may come from anywhere."""
    jobs = FakeJobs(FakeBench())
    jobs.create("skerry-7", owner="<script>alert(1)</script>", make='"><img src=x onerror=alert(1)>')
    for place in ("jobs", "jobs/1", "records"):
        html = _part(jobs, place)
        assert "<script" not in html
        assert "<img" not in html


def typedef(module: str, name: str) -> set[str]:
    """Read the properties of a type out of a module's comments."""
    text = (MODULES / module).read_text()
    block = re.search(rf"@typedef \{{object\}} {name}\n(.*?)\*/", text, re.DOTALL)
    assert block is not None, name
    return set(re.findall(r"@property \{.*\} \[?(\w+)\]?", block[1]))


SHAPES = {
    ("live/types.js", "Guidance"): {each.name for each in fields(Guidance)},
    ("live/types.js", "Question"): {each.name for each in fields(Asked)} | {"number"},
    ("shared/types.js", "Asked"): {each.name for each in fields(Asked)} | {"number"},
    ("shared/types.js", "Bench"): {each.name for each in fields(BenchView)} | {"mode", "operator"},
    ("shared/types.js", "ScanDocument"): {*RUN_FIELDS, "readings", "notices", "result", "curves"},
    ("shared/types.js", "ScanSummary"): {*SUMMARY_FIELDS, "job_id"},
}
"""What the service gives under each name that the page's modules state a type for."""


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: shape[1])
def test_the_types_of_the_page_name_nothing_that_the_service_does_not_give(shape: tuple[str, str]) -> None:
    """A field renamed on one side only is found here and not at the bench."""
    assert typedef(*shape) <= SHAPES[shape]


def test_an_order_of_a_scan_says_what_the_route_knows(openapi: Json) -> None:
    known = set(openapi["components"]["schemas"]["ScanOrder"]["properties"])
    assert typedef("shared/types.js", "ScanSettings") - {"hookup"} <= known


def test_the_live_feed_is_folded_by_the_names_of_its_events() -> None:
    """The page reads these fields of these events, and each event has them."""
    text = (MODULES / "scan" / "record.js").read_text()
    for event in (ReadingTaken, LevelTaken, Progress):
        body = re.search(rf"\b{event.__name__}\(record, event\) \{{(.*?)\n  \}},", text, re.DOTALL)
        assert body is not None
        assert set(re.findall(r"event\.(\w+)", body[1])) <= {each.name for each in fields(event)}
