"""What a beginner would do wrong is refused with the reason, or noticed and put right: over sockets, by the truth.

A can swept through a narrower window shows the window; a gain control that is driven flattens the top; a step done
before its turn is undone by the one that should have come first (Rider, On Resonance and Alignment, 1936, chapters IV
to VI, for the order; the others common practice, no source).
"""

from collections.abc import Callable
from dataclasses import replace

import pytest

from sequences.alignment.advice import order_of
from sequences.alignment.outcome import Phase, StepOutcome, Task
from sequences.alignment.progress import Choice, Progress, StepBegun, StepDecided, StepMeasured, noted
from sequences.engine.events import ReadingTaken
from sequences.kinds import alignment_plan
from sequences.kinds.fixed_oscillator import fixed_oscillator
from sequences.kinds.if_can.procedure import if_can
from sequences.kinds.if_passband.procedure import if_passband
from sequences.kinds.passband_symmetry import passband_symmetry
from sequences.numerics.figures import Estimate
from sequences.numerics.verdicts.verdict import Verdict
from sequences.plan.content import WayName
from tests.bench.steps import StepBench, with_source_level

MUCH_TOO_LOUD_DBM = -10.0


def figure(outcome: StepOutcome, name: str) -> Estimate:
    """Give the last figure of a name."""
    return [one.figure for one in outcome.findings if one.name == name and one.figure is not None][-1]


def by_sweep(task: Task) -> Task:
    """Insist on a sweep."""
    return replace(task, way=replace(task.way, name=WayName.SWEEP))


@pytest.mark.parametrize("phase", [Phase.AS_FOUND, Phase.ADJUST])
@pytest.mark.parametrize("can", ["T1", "T2"])
def test_a_can_is_not_swept_through_the_narrower_window_behind_it(skerry: StepBench, can: str, phase: Phase) -> None:
    """11 kHz of can behind 4 kHz of filter: nothing is even read, and nothing is turned."""
    skerry.put_unit(2)
    skerry.sink.events.clear()

    outcome = skerry.run(if_can, f"filter-{can.lower()}", phase, by_sweep)

    (finding,) = outcome.findings
    assert finding.figure is None
    assert "moving the source shows the window, not the circuit" in (finding.reason or "")
    assert "turn by equal nudges" in (finding.reason or "")
    assert outcome.verdict is None
    assert not [event for event in skerry.sink.events if isinstance(event, ReadingTaken)]
    assert not skerry.robot.done


def loud(point: str) -> Callable[[Task], Task]:
    """Begin with far too strong a signal."""
    return lambda task: with_source_level(task, point, MUCH_TOO_LOUD_DBM)


@pytest.mark.parametrize("seed", [2, 6])
def test_a_source_that_drives_the_gain_control_flat_is_turned_down_for_a_can(millrace: StepBench, seed: int) -> None:
    """50 dB too much; the centre told is the simulator's all the same."""
    millrace.put_unit(seed)
    millrace.sink.events.clear()

    outcome = millrace.run(if_can, "filter-can-2", Phase.AS_FOUND, loud("IF grid"))

    assert any("flattened" in notice for notice in millrace.notices())
    centre, truth = figure(outcome, "centre"), millrace.truth()["circuits"]["can 2"]
    assert abs(centre.value - truth["centre_hz"]) <= 4 * centre.sigma


@pytest.mark.parametrize("agc", ["off", "fast"])
def test_and_for_a_passband_whether_the_gain_control_is_on_or_off(skerry: StepBench, agc: str) -> None:
    skerry.put_unit(3)
    skerry.bench.do(do="set", control="agc", to=agc)
    skerry.sink.events.clear()

    outcome = skerry.run(if_passband, "passband-third", Phase.AS_FOUND, loud("third mixer"))

    assert any("flattened" in notice for notice in skerry.notices())
    skerry.bench.do(do="set", control="selectivity", to="0.8 kHz")
    truth = skerry.truth()["circuits"]["85 kHz filter"]
    centre = next(one.figure for one in outcome.findings if one.name == "centre" and "0.8 kHz" in one.where)
    assert centre is not None
    assert abs(centre.value - truth["centre_hz"]) <= 4 * centre.sigma + 0.002 * truth["width_3db_hz"]


def test_the_passband_control_is_not_made_even_before_its_oscillator_is_right(skerry: StepBench) -> None:
    """By the order of the plan, and by the procedure should someone run it all the same; then it is, in its turn."""
    skerry.put_unit(1)
    plan = alignment_plan(skerry.receiver)
    progress = Progress(skerry.receiver.id)
    assert order_of(plan, progress, "passband-symmetry").refused

    found = skerry.run(fixed_oscillator, "beat-oscillator", Phase.AS_FOUND)
    for step_id, outcome in (("warm-up", _nothing_wrong("warm-up")), ("beat-oscillator", found)):
        progress = _done(progress, step_id, outcome)
    order = order_of(plan, progress, "passband-symmetry")
    assert order.refused
    assert "'Beat oscillator', since it was left outside its limits" in order.reasons[0]

    refused = skerry.run(passband_symmetry, "passband-symmetry", Phase.ADJUST)
    assert refused.findings[-1].figure is None
    assert "first" in (refused.findings[-1].reason or "")

    left = skerry.run(fixed_oscillator, "beat-oscillator", Phase.ADJUST)
    assert left.verdict is Verdict.LEAVE
    progress = _done(progress, "beat-oscillator", left)
    progress = _done(progress, "passband-third", _nothing_wrong("passband-third"))
    assert not order_of(plan, progress, "passband-symmetry").refused


def _nothing_wrong(step_id: str) -> StepOutcome:
    return StepOutcome(step_id, Phase.AS_FOUND, ())


def _done(progress: Progress, step_id: str, outcome: StepOutcome) -> Progress:
    progress = noted(progress, StepBegun(step_id, WayName.COUNT))
    progress = noted(progress, StepMeasured(outcome, at_s=0.0))
    return noted(progress, StepDecided(step_id, Choice.LEAVE))
