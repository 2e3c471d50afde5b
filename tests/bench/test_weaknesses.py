"""A receiver with one weakness built in is told where to look first; a sound one is not."""

from dataclasses import replace

import pytest

from sequences.alignment.look_first import WORDS, look_first
from sequences.alignment.outcome import Finding, Phase, StepOutcome
from sequences.alignment.progress import Choice, Progress, StepBegun, StepDecided, StepMeasured, noted
from sequences.kinds import alignment_plan
from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.verdict import Signs, judge_at_most
from sequences.numerics.wording import say_db
from sequences.plan.content import Culprit, WayName
from simulators.radios.radio import Radio
from tests.bench.in_process import InProcess
from tests.bench.steps import shipped
from tests.bench.weaknesses import WEAKNESSES, WELL_ALIGNED, named_culprit

TELLING = ("sensitivity", "image-rejection", "gain-control")


@pytest.mark.parametrize("receiver_id", ["skerry-7", "millrace-5"])
@pytest.mark.parametrize("weakness", WEAKNESSES)
def test_what_the_signal_meets_first_of_all_that_is_suspected_is_named(receiver_id: str, weakness: str) -> None:
    """A weak valve costs sensitivity and leaves the gain control less to hold: the valve is named, not the control."""
    weaken, culprit = WEAKNESSES[weakness]

    assert named_culprit(InProcess(receiver_id, 1, 0.1, WELL_ALIGNED, weaken), TELLING) is culprit


def test_every_failed_proof_says_the_same_and_a_good_one_nothing() -> None:
    plan, progress = alignment_plan(shipped("skerry-7")), Progress("skerry-7")
    for step_id, size in (("sensitivity", 3.0), ("gain-control", 3.0), ("selectivity", 0.5)):
        step = plan.step(step_id)
        judged = judge_at_most("It", Estimate(size, 0.1), 1.0, say_db, signs=Signs(nothing_to_turn=True))
        finding = Finding(step.limits[0].quantity, "", Estimate(size, 0.1), judged)
        outcome = StepOutcome(step_id, Phase.AS_FOUND, (finding,))
        for note in (
            StepBegun(step_id, WayName.THROUGH_RECEIVER),
            StepMeasured(outcome, 0.0),
            StepDecided(step_id, Choice.LEAVE),
        ):
            progress = noted(progress, note)

    said = {step_id: look_first(plan, progress, step_id) for step_id in ("sensitivity", "gain-control", "selectivity")}
    assert said["sensitivity"] == said["gain-control"] == (WORDS[Culprit.VALVES],)
    assert said["selectivity"] == ()
    assert look_first(plan, progress, "image-rejection") == ()
    assert look_first(plan, progress, "beat-oscillator") == ()


@pytest.mark.parametrize("volts_per_volt", [8.0, 60.0])
def test_a_gain_control_that_holds_the_output_flat_is_not_taken_for_an_overdriven_stage(volts_per_volt: float) -> None:
    """Delayed, and flatter than the one it has: below its threshold the output follows the signal dB for dB."""

    def flatten(radio: Radio) -> None:
        radio.control_law = replace(radio.control_law, volts_per_volt=volts_per_volt)

    assert named_culprit(InProcess("skerry-7", 1, 0.1, WELL_ALIGNED, flatten), ("gain-control",)) is None
