"""Receivers and plans as the API shows them, held to what the receiver files say."""

import tomllib
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient

from sequences.kinds import alignment_plan
from sequences.receiver.file import shipped_receivers
from server.api.app import create_app
from server.api.plan_views import plan_view
from server.api.service import assemble
from server.bench.file import BenchFile
from server.settings import Settings
from tests.server.benches import FakeBench

FILES = Path("sequences/receivers")
HOOKUP = {"source_to", "source_through", "meter_to", "meter_through", "counter_to", "counter_through", "controls"}
ADJUSTER = {"name", "kind", "measure_only", "bands", "end", "nudge_turns", "clockwise"}


@pytest.fixture
def http(tmp_path: Path) -> TestClient:
    """A service whose bench is never opened: plans need none."""
    settings = Settings(mode="bench", bench_file=BenchFile(), store_path=tmp_path / "record.sqlite")
    return TestClient(create_app(assemble(settings, open_bench=lambda _: FakeBench())), base_url="http://127.0.0.1")


def written(ident: str) -> dict[str, Any]:
    """Read a shipped file with nothing of ours."""
    return tomllib.loads((FILES / f"{ident}.toml").read_text(encoding="utf-8"))


def test_receivers_are_listed_with_what_can_kill(http: TestClient) -> None:
    """Names and supplies are those of the files; a transformerless set's live chassis is told."""
    listed = {one["id"]: one for one in http.get("/api/receivers").json()}

    assert set(listed) == {path.stem for path in FILES.glob("*.toml")}
    for ident, one in listed.items():
        assert one["name"] == written(ident)["name"]
        assert one["supply"] == written(ident)["supply"]["kind"]
        assert one["steps"] == len(http.get(f"/api/receivers/{ident}/plan").json()["steps"])
    assert any("chassis can be live" in caution for caution in listed["millrace-5"]["cautions"])
    assert not any("chassis can be live" in caution for caution in listed["skerry-7"]["cautions"])


def test_a_plan_names_only_what_the_file_has(http: TestClient) -> None:
    """Each lead goes to a point of the file, each adjuster is one of the file and factory-only where it says so."""
    for ident in ("skerry-7", "millrace-5"):
        file, plan = written(ident), http.get(f"/api/receivers/{ident}/plan").json()
        assert plan["receiver"] == {"id": ident, "name": file["name"]}
        for step in plan["steps"]:
            for way in step["ways"]:
                assert set(way) == {"name", "because", "measured", "hookup", "cautions"}
                assert set(way["hookup"]) == HOOKUP
                for role in ("source", "meter", "counter"):
                    assert way["hookup"][f"{role}_to"] in {None, *file.get(f"{role}_point", {})}
            for adjuster in step["adjusters"]:
                assert set(adjuster) == ADJUSTER
                assert adjuster["measure_only"] == file["adjuster"][adjuster["name"]].get("factory_only", False)


def test_steps_come_after_all_they_rest_on(http: TestClient) -> None:
    """In the order of the list."""
    steps = http.get("/api/receivers/skerry-7/plan").json()["steps"]

    before: set[str] = set()
    for step in steps:
        assert set(step["depends_on"]) <= before
        before.add(step["id"])
    assert any(step["depends_on"] for step in steps)


def test_limits_stand_in_numbers_and_words(http: TestClient) -> None:
    """The sentence says the number and its unit."""
    for step in http.get("/api/receivers/skerry-7/plan").json()["steps"]:
        assert step["limits"]
        assert step["good"].startswith("Good is: ")
        for limit in step["limits"]:
            assert f"{limit['most']:g} {limit['unit']}".rstrip() in limit["sentence"]
            assert limit["sentence"] in step["good"]


def test_a_view_is_plain_json_and_pure() -> None:
    """The same receiver gives the same view twice, of words and numbers alone."""
    for receiver in shipped_receivers():
        plan = alignment_plan(receiver)
        view = plan_view(receiver, plan)
        assert view == plan_view(receiver, plan)
        _assert_plain(view)


def _assert_plain(value: object) -> None:
    if isinstance(value, dict):
        assert all(type(key) is str for key in value)
        value = list(value.values())
    if isinstance(value, list):
        for one in value:
            _assert_plain(one)
    else:
        assert value is None or type(value) in {str, int, float, bool}


def test_an_unknown_receiver_is_told_in_one_sentence(http: TestClient) -> None:
    """With where to look."""
    answer = http.get("/api/receivers/none/plan")

    assert answer.status_code == 404
    assert answer.json() == {"error": 'There is no receiver "none"; GET /api/receivers lists those there are.'}
