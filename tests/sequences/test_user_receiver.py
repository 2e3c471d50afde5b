"""A receiver nobody here has seen, written by its owner from the page on receiver files: no line of code is for it.

Single conversion with a crystal filter, one band, from a battery. Every expected figure is worked out by hand.
"""

import subprocess
import sys
from pathlib import Path

import pytest

from sequences.alignment.outcome import Phase, Task
from sequences.engine.requests import Ask
from sequences.kinds import alignment_plan, procedure_for
from sequences.plan.content import Step, WayName
from sequences.receiver.contradictions import contradictions
from sequences.receiver.file import load_receiver

FILE = Path(__file__).parent / "user_files" / "harbour-3.toml"
RECEIVER = load_receiver(FILE)
PLAN = alignment_plan(RECEIVER)


def test_it_does_not_contradict_itself() -> None:
    assert list(contradictions(RECEIVER)) == []


def test_its_steps_go_from_the_detector_to_the_aerial_each_seen_as_it_can_be() -> None:
    """Last stage first: Rider, On Resonance and Alignment (1936), chapters IV to VI.

    The can before the crystal filter is 40 kHz wide behind 2.4 kHz, so steps of its slugs find it and no sweep.
    """
    assert [(step.id, step.ways[0].name) for step in PLAN.steps] == [
        ("warm-up", WayName.COUNT),
        ("beat-oscillator", WayName.COUNT),
        ("filter-detector-coil", WayName.STEP_AND_FIT),
        ("filter-mixer-can", WayName.STEP_AND_FIT),
        ("passband-main", WayName.SWEEP),
        ("dial-only", WayName.ZERO_BEAT),
        ("preselector", WayName.THROUGH_RECEIVER),
    ]
    assert "2.4 kHz" in PLAN.step("filter-mixer-can").ways[0].because


def test_what_was_set_in_the_factory_is_measured_only() -> None:
    adjusters = {each.name: each.measure_only for each in PLAN.step("passband-main").adjusters}

    assert adjusters["filter capacitor"]
    assert not adjusters["detector slug"]


def test_the_check_prints_a_plan_that_can_be_followed_by_hand() -> None:
    """5400 - 3750 = 1650; image 3750 + 2 * 1650 = 7050; half-IF 3750 + 1650 / 2 = 4575; high side: turned over."""
    command = [sys.executable, "-m", "server", "check", str(FILE)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)

    assert (done.returncode, done.stderr) == (0, "")
    lines = [" ".join(line.split()) for line in done.stdout.splitlines()]
    assert "80 m 3750 3750 5400 5400 - 3750 = 1650" in lines
    assert any(line.startswith("80 m 3750 only 7050 7050 4575") for line in lines)
    assert any("sidebands arrive swapped" in line for line in lines)
    assert lines[-1] == "harbour-3.toml closes: every conversion gives its IF at both ends of every band."


@pytest.mark.parametrize("step", PLAN.steps, ids=[step.id for step in PLAN.steps])
def test_each_of_its_steps_can_be_begun_and_asks_for_leads_it_has(step: Step) -> None:
    """The first thing asked for is where the leads go; a battery set has no high voltage to beware of."""
    procedure = procedure_for(Task(RECEIVER, step, step.ways[0], Phase.AS_FOUND))
    request = next(procedure)
    while not isinstance(request, Ask):
        request = procedure.send(None)
    procedure.close()

    assert request.action == "connect"
    known = {None, *RECEIVER.source_points, *RECEIVER.meter_points, *RECEIVER.counter_points}
    assert {request.detail[role]["to"] for role in ("source", "meter", "counter")} <= known
    assert not any("kill" in caution for caution in request.detail["cautions"])
