"""What a plan leaves out is told with its reason, and no source is ever put behind the circuit to be peaked."""

from pathlib import Path

import pytest
from hypothesis import given

from sequences.kinds import alignment_plan
from sequences.plan.not_planned import NotPlanned, not_planned
from sequences.receiver.contradictions import contradictions
from sequences.receiver.file import load_receiver
from sequences.receiver.model import Receiver
from sequences.receiver.points import source_before_filter
from tests.sequences.receiver_files import Tables, made_up_receivers, put, shipped, shipped_tables

FILES = Path(__file__).parent / "user_files"


def told(tables: Tables) -> dict[str, NotPlanned]:
    """Give what is not planned, by its subject."""
    receiver = Receiver.model_validate(tables)
    return {each.subject: each for each in not_planned(receiver, alignment_plan(receiver))}


@pytest.mark.parametrize("receiver_id", ["skerry-7", "millrace-5"])
def test_of_the_shipped_receivers_nothing_is_left_out_but_a_sealed_filter(receiver_id: str) -> None:
    receiver = shipped(receiver_id)

    found = [each.name for each in not_planned(receiver, alignment_plan(receiver))]

    assert found == (["input filter"] if receiver_id == "skerry-7" else [])


def test_without_a_meter_point_for_the_level_every_circuit_is_told_and_what_would_bring_it_in() -> None:
    """A receiver whose only meter point is its crystals' test point loses most of its steps: it says which, and why."""
    tables = shipped_tables("skerry-7")
    test_point = "crystal oscillator test point"
    tables["meter_point"] = {test_point: tables["meter_point"][test_point]}

    found = told(tables)

    for subject in ("filter.T1", "filter.T2", "filter.tunable IF circuit", "conversion.second", "preselector"):
        assert "'detector'" in found[subject].remedy
        assert "'agc line'" in found[subject].remedy
    assert "adjuster.T1 primary" in found


@pytest.mark.parametrize("receiver_id", ["skerry-7", "millrace-5"])
def test_the_agc_line_serves_where_no_detector_can_be_reached(receiver_id: str) -> None:
    """Every step planned with a detector is planned with the AGC line, and there the AGC is never off.

    But for the gain control itself: how well it holds the output shows at the detector only.
    """
    whole = alignment_plan(shipped(receiver_id))
    tables = shipped_tables(receiver_id)
    tables["meter_point"] = {name: each for name, each in tables["meter_point"].items() if each["reads"] != "detector"}
    receiver = Receiver.model_validate(tables)

    plan = alignment_plan(receiver)

    assert {step.id for step in plan.steps} == {step.id for step in whole.steps} - {"gain-control"}
    ways = [way for step in plan.steps for way in step.ways if way.hookup.meter_to == "agc line"]
    assert ways
    assert all(way.hookup.controls.get("agc", "fast") == "fast" for way in ways)
    assert any("law is learnt from the source" in way.because for way in ways)


def test_a_meter_point_says_how_controls_stand_while_it_is_read() -> None:
    tables = shipped_tables("skerry-7")
    tables["meter_point"] = {"meter": {**tables["meter_point"]["agc line"], "controls": {"agc": "slow"}}}

    plan = alignment_plan(Receiver.model_validate(tables))

    assert {way.hookup.controls["agc"] for step in plan.steps for way in step.ways if way.hookup.meter_to} == {"slow"}


def test_with_the_antenna_alone_the_oscillators_are_still_counted_and_the_cans_are_told() -> None:
    tables = shipped_tables("skerry-7")
    tables["source_point"] = {"antenna": tables["source_point"]["antenna"]}

    found = told(tables)

    assert found["filter.T1"].reason == "no source point lets the second IF in"
    assert found["filter.T1"].remedy == "add a source point that enters 'second'"
    assert "beat_oscillator" not in found


def test_a_source_behind_the_circuit_never_serves() -> None:
    """Put there, the circuit would not stand between source and meter, and good circuits would end as suspects."""
    tables = put(shipped_tables("millrace-5"), "source_point/IF grid/after_filter", "can 2")
    del tables["source_point"]["converter grid"]
    tables = put(tables, "source_point/antenna/enters", ["signal"])

    found = told(tables)

    assert source_before_filter(Receiver.model_validate(tables), "can 2") is None
    assert found["filter.can 2"].reason == "every source point stands behind it"
    assert "filter.can 1" in found


SEALED = {"heron-30": {"roofing filter"}}
"""What nobody may turn and no sweep can show."""


@pytest.mark.parametrize("path", sorted(FILES.glob("*.toml")), ids=lambda path: path.stem)
def test_of_receivers_of_any_architecture_nothing_is_dropped_but_what_is_sealed(path: Path) -> None:
    """Broadcast superhet with an AVC line only, FM tuner, up-conversion, converter before a receiver, and more."""
    receiver = load_receiver(path)
    assert list(contradictions(receiver)) == []

    plan = alignment_plan(receiver)

    assert {each.name for each in not_planned(receiver, plan)} == SEALED.get(path.stem, set())
    moved = {f"conversion.{key}" for key in receiver.conversions}
    assert moved <= {step.subject for step in plan.steps}


@given(made_up_receivers())
def test_every_adjuster_and_circuit_is_in_a_step_or_told(receiver: Receiver) -> None:
    """Whatever the receiver, and whatever access it lacks."""
    plan = alignment_plan(receiver)
    left_out = {each.subject for each in not_planned(receiver, plan)}
    turned = {f"adjuster.{adjuster.name}" for step in plan.steps for adjuster in step.adjusters}

    assert {f"adjuster.{name}" for name in receiver.adjusters} == turned | {
        subject for subject in left_out if subject.startswith("adjuster.")
    }
    subjects = {step.subject for step in plan.steps}
    for name, entry in receiver.filters.items():
        assert {f"filter.{name}", f"if.{entry.intermediate}"} & subjects or f"filter.{name}" in left_out
