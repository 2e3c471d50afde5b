"""Both practice receivers from end to end: what each step comes to is what the simulator has, and nothing stays off.

A unit without a fault ends within every limit, by the truth; one with a fault ends with a part suspected in its step.
"""

import pytest

from sequences.alignment.advice import to_be_told
from sequences.alignment.outcome import Stuck, StuckAdjuster
from sequences.alignment.progress import Ending
from sequences.kinds import alignment_plan
from tests.bench.steps import FINGERS_TURNS, step_bench
from tests.bench.whole_plan import walk_plan

pytestmark = pytest.mark.timeout(400)
"""A whole alignment is some hundred questions and a thousand readings."""

ANTENNA_MARKS_KHZ = (600.0, 1000.0, 1400.0)


def test_a_millrace_5_without_a_fault_ends_aligned() -> None:
    """Its gang must be rocked: at 600 kHz the antenna circuit stays off else."""
    with step_bench("millrace-5", "--seed", "1", coarse_turns=FINGERS_TURNS) as on:
        assert not on.truth()["faults"]
        progress = walk_plan(on)

        assert {record.ending for record in progress.latest.values()} == {Ending.GOOD}
        truth = on.truth()
        assert abs(truth["circuits"]["IF"]["centre_hz"] - 455e3) < 0.1 * truth["circuits"]["IF"]["width_3db_hz"]
        assert max(abs(error) for error in truth["dial"]["errors_by_passband_khz"].values()) < 10.0
        for mark_khz in ANTENNA_MARKS_KHZ:
            on.bench.do(do="set", control="dial", to=mark_khz)
            truth = on.truth()
            tuned_hz = (mark_khz + truth["dial"]["error_by_passband_khz"]) * 1e3
            circuit = truth["circuits"]["antenna circuit"]
            assert abs(circuit["centre_hz"] - tuned_hz) < 0.2 * circuit["width_3db_hz"]


def test_a_millrace_5_with_a_seized_slug_ends_with_that_part_suspected() -> None:
    with step_bench("millrace-5", "--seed", "7", coarse_turns=FINGERS_TURNS) as on:
        assert on.truth()["faults"] == ["seized, can 2 primary"]
        latest = walk_plan(on).latest

        assert latest["filter-can-2"].ending is Ending.SUSPECT
        rest = {record.ending for name, record in latest.items() if name != "filter-can-2"}
        assert rest == {Ending.GOOD}


def test_a_slug_found_seized_is_told_though_its_can_is_good() -> None:
    """The other slug alone brings this can within its limits; the next to turn it must still know."""
    with step_bench("millrace-5", "--seed", "16", coarse_turns=FINGERS_TURNS) as on:
        assert on.truth()["faults"] == ["seized, can 1 primary"]
        progress = walk_plan(on, "filter-can-1")
        truth = on.truth()["circuits"]["can 1"]

    assert abs(truth["centre_hz"] - 455e3) < 0.1 * truth["width_3db_hz"]
    assert progress.latest["filter-can-1"].ending is Ending.GOOD
    assert progress.stuck("filter-can-1") == (StuckAdjuster("can 1 primary", Stuck.SEIZED),)
    (told,) = to_be_told(alignment_plan(on.receiver), progress, "filter-can-1")
    assert "can 1 primary is seized" in told


def test_what_waits_for_a_seized_oscillator_says_so_to_whoever_reads_the_end() -> None:
    """The knob that shifts the passband is set against the beat oscillator, and that cannot be put right."""
    with step_bench("skerry-7", "--seed", "49", coarse_turns=FINGERS_TURNS) as on:
        assert "seized, beat oscillator slug" in on.truth()["faults"]
        progress = walk_plan(on, "passband-symmetry")
        assert not [asked for asked in on.asked("turn") if asked.subject == "passband knob"]

    control = progress.latest["passband-symmetry"]
    assert (control.ending, control.blocked_by) == (Ending.BLOCKED, ("beat-oscillator",))
    assert progress.latest["passband-third"].ending is Ending.OFF
    plan = alignment_plan(on.receiver)
    for words in (control.reason or "", *to_be_told(plan, progress, "passband-third")):
        assert "The beat oscillator slug is seized: free it without force" in words
        assert "Put 'Beat oscillator' right first, then do 'Passband control symmetry'" in words


def test_a_skerry_7_without_a_fault_ends_aligned() -> None:
    """This one's passband is off by its control's knob: it is measured again once that stands right."""
    with step_bench("skerry-7", "--seed", "2", coarse_turns=FINGERS_TURNS) as on:
        assert not on.truth()["faults"]
        progress = walk_plan(on)

        assert {name: record.ending for name, record in progress.latest.items()} == dict.fromkeys(
            progress.latest, Ending.GOOD
        )
        on.bench.do(do="set", control="selectivity", to="0.8 kHz")
        on.bench.do(do="set", control="band", to="4.5")
        truth = on.truth()
        assert abs(truth["oscillators"]["beat oscillator"] - 85e3) < 20.0
        assert abs(truth["oscillators"]["third oscillator"] - 435e3) < 30.0
        assert abs(truth["circuits"]["85 kHz filter"]["centre_hz"] - 85e3) < 0.1 * 800.0
        crystal_khz = truth["oscillators"]["crystal oscillator"] / 1e3
        assert crystal_khz == pytest.approx(7900.0, abs=0.2)
        errors = truth["dial"]["errors_by_zero_beat_khz"]
        assert max(abs(error - (crystal_khz - 7900.0)) for error in errors.values()) < 1.0
        volts = truth["crystal oscillator test point"]
        assert min(abs(volt) for volt in volts.values()) > 0.5 * abs(volts["16"])
